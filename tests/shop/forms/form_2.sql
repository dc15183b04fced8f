-- The records as form 2 left them: stock and orders, both by the order's title.
-- All of it is invented.
CREATE TABLE record_migration (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT record_migration_pkc PRIMARY KEY (version_num)
);
INSERT INTO "record_migration" VALUES('form_2');
CREATE TABLE record_schema (
	version INTEGER NOT NULL, 
	CONSTRAINT pk_record_schema PRIMARY KEY (version)
);
INSERT INTO "record_schema" VALUES(2);
CREATE TABLE run (
	id INTEGER NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	forgotten_at DATETIME, 
	ran_on DATE NOT NULL, 
	machine VARCHAR(255) NOT NULL, 
	clock VARCHAR(64) NOT NULL, 
	order_title TEXT NOT NULL, 
	sheet_number INTEGER NOT NULL, 
	sheet_name TEXT NOT NULL, 
	material TEXT NOT NULL, 
	program TEXT NOT NULL, 
	program_sha256 VARCHAR(64) NOT NULL, 
	repeat INTEGER NOT NULL, 
	computed_s DOUBLE NOT NULL, 
	expected_s DOUBLE, 
	actual_s DOUBLE NOT NULL, 
	scrapped_parts INTEGER, 
	note TEXT NOT NULL, 
	CONSTRAINT pk_run PRIMARY KEY (id), 
	CONSTRAINT uq_run_machine UNIQUE (machine, program_sha256, repeat), 
	CONSTRAINT ck_run_computed CHECK (computed_s > 0), 
	CONSTRAINT ck_run_actual CHECK (actual_s > 0), 
	CONSTRAINT ck_run_scrapped CHECK (scrapped_parts >= 0)
);
INSERT INTO "run" VALUES(1,'2026-05-04 13:03:00.500000',NULL,'2026-05-04','trial machine','c10c','Regatta',1,'offcut','board','01-board-offcut.nc','0101010101010101010101010101010101010101010101010101010101010101',1,100.0,NULL,110.0,NULL,'');
CREATE TABLE run_process (
	run_id INTEGER NOT NULL, 
	process VARCHAR(32) NOT NULL, 
	computed_s DOUBLE NOT NULL, 
	CONSTRAINT pk_run_process PRIMARY KEY (run_id, process), 
	CONSTRAINT fk_run_process_run_id FOREIGN KEY(run_id) REFERENCES run (id)
);
INSERT INTO "run_process" VALUES(1,'cut',60.0);
INSERT INTO "run_process" VALUES(1,'engrave',30.0);
CREATE TABLE shop_order (
	id INTEGER NOT NULL, 
	title TEXT NOT NULL, 
	customer TEXT NOT NULL, 
	due DATE, 
	CONSTRAINT pk_shop_order PRIMARY KEY (id), 
	CONSTRAINT uq_shop_order_title UNIQUE (title)
);
INSERT INTO "shop_order" VALUES(1,'Regatta','harbour office','2026-05-04');
INSERT INTO "shop_order" VALUES(2,'Lantern','',NULL);
CREATE TABLE shop_order_step (
	id INTEGER NOT NULL, 
	order_id INTEGER NOT NULL, 
	state VARCHAR(16) NOT NULL, 
	stepped_at DATETIME NOT NULL, 
	stepped_by TEXT NOT NULL, 
	note TEXT NOT NULL, 
	CONSTRAINT pk_shop_order_step PRIMARY KEY (id), 
	CONSTRAINT fk_shop_order_step_order_id FOREIGN KEY(order_id) REFERENCES shop_order (id)
);
INSERT INTO "shop_order_step" VALUES(1,1,'ordered','2026-05-04 12:21:00.500000','keeper','');
INSERT INTO "shop_order_step" VALUES(2,1,'planned','2026-05-04 12:35:00.500000','planner','');
INSERT INTO "shop_order_step" VALUES(3,2,'quoted','2026-05-04 12:42:00.500000','keeper','');
CREATE TABLE shop_plan (
	id INTEGER NOT NULL, 
	order_id INTEGER NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	folder TEXT NOT NULL, 
	machine TEXT NOT NULL, 
	planned_at DATETIME NOT NULL, 
	net VARCHAR(32), 
	currency VARCHAR(8) NOT NULL, 
	CONSTRAINT pk_shop_plan PRIMARY KEY (id), 
	CONSTRAINT uq_shop_plan_sha256 UNIQUE (sha256), 
	CONSTRAINT fk_shop_plan_order_id FOREIGN KEY(order_id) REFERENCES shop_order (id)
);
INSERT INTO "shop_plan" VALUES(1,1,'cdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcd','/out/regatta','trial machine','2026-05-04 12:28:00.500000','36.00','EUR');
CREATE TABLE shop_plan_sheet (
	plan_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	material TEXT NOT NULL, 
	sheet TEXT NOT NULL, 
	program_sha256 VARCHAR(64), 
	time_s DOUBLE NOT NULL, 
	sheet_mm2 DOUBLE NOT NULL, 
	parts_mm2 DOUBLE NOT NULL, 
	parts INTEGER NOT NULL, 
	CONSTRAINT pk_shop_plan_sheet PRIMARY KEY (plan_id, number), 
	CONSTRAINT fk_shop_plan_sheet_plan_id FOREIGN KEY(plan_id) REFERENCES shop_plan (id)
);
INSERT INTO "shop_plan_sheet" VALUES(1,1,'board','S-001','0101010101010101010101010101010101010101010101010101010101010101',100.0,240000.0,90000.0,7);
INSERT INTO "shop_plan_sheet" VALUES(1,2,'board','S-001','0202020202020202020202020202020202020202020202020202020202020202',100.0,240000.0,90000.0,7);
CREATE TABLE stock_lot (
	id INTEGER NOT NULL, 
	label VARCHAR(32) NOT NULL, 
	material TEXT NOT NULL, 
	kind VARCHAR(8) NOT NULL, 
	width_mm DOUBLE NOT NULL, 
	height_mm DOUBLE NOT NULL, 
	rings JSON, 
	location TEXT NOT NULL, 
	cost VARCHAR(32), 
	price_per_m2 VARCHAR(32), 
	received_on DATE NOT NULL, 
	cut_from_id INTEGER, 
	note TEXT NOT NULL, 
	CONSTRAINT pk_stock_lot PRIMARY KEY (id), 
	CONSTRAINT uq_stock_lot_label UNIQUE (label), 
	CONSTRAINT fk_stock_lot_cut_from_id FOREIGN KEY(cut_from_id) REFERENCES stock_lot (id), 
	CONSTRAINT ck_stock_lot_kind CHECK (kind IN ('sheet', 'offcut')), 
	CONSTRAINT ck_stock_lot_size CHECK (width_mm > 0 AND height_mm > 0)
);
INSERT INTO "stock_lot" VALUES(1,'S-001','board','sheet',600.0,400.0,NULL,'rack 2',NULL,'20.00','2026-05-04',NULL,'');
INSERT INTO "stock_lot" VALUES(2,'E-001','board','offcut',120.0,100.0,'[[[0.0, 0.0], [120.0, 0.0], [60.0, 100.0], [0.0, 100.0]], [[10.0, 10.0], [20.0, 10.0], [20.0, 20.0]]]','',NULL,NULL,'2026-05-04',NULL,'🛶');
INSERT INTO "stock_lot" VALUES(3,'E-002','board','offcut',400.0,400.0,NULL,'rack 2',NULL,'20.00','2026-05-04',1,'');
CREATE TABLE stock_movement (
	id INTEGER NOT NULL, 
	lot_id INTEGER NOT NULL, 
	what VARCHAR(16) NOT NULL, 
	on_hand INTEGER NOT NULL, 
	held INTEGER NOT NULL, 
	moved_at DATETIME NOT NULL, 
	moved_by TEXT NOT NULL, 
	order_title TEXT NOT NULL, 
	plan_sha256 VARCHAR(64), 
	sheet_number INTEGER, 
	run_id INTEGER, 
	note TEXT NOT NULL, 
	CONSTRAINT pk_stock_movement PRIMARY KEY (id), 
	CONSTRAINT fk_stock_movement_lot_id FOREIGN KEY(lot_id) REFERENCES stock_lot (id), 
	CONSTRAINT fk_stock_movement_run_id FOREIGN KEY(run_id) REFERENCES run (id), 
	CONSTRAINT ck_stock_movement_moves CHECK (on_hand <> 0 OR held <> 0)
);
INSERT INTO "stock_movement" VALUES(1,1,'received',5,0,'2026-05-04 12:07:00.500000','keeper','',NULL,NULL,NULL,'');
INSERT INTO "stock_movement" VALUES(2,2,'received',1,0,'2026-05-04 12:14:00.500000','keeper','',NULL,NULL,NULL,'');
INSERT INTO "stock_movement" VALUES(3,1,'reserved',0,2,'2026-05-04 12:49:00.500000','keeper','Regatta','cdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcd',NULL,NULL,'');
INSERT INTO "stock_movement" VALUES(4,1,'reserved',0,1,'2026-05-04 12:56:00.500000','keeper','Lantern',NULL,NULL,NULL,'');
INSERT INTO "stock_movement" VALUES(5,1,'used',-1,-1,'2026-05-04 13:10:00.500000','keeper','Regatta','cdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcd',1,1,'');
INSERT INTO "stock_movement" VALUES(6,3,'returned',1,0,'2026-05-04 13:17:00.500000','keeper','Regatta','cdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcd',1,1,'');
CREATE INDEX ix_run_machine ON run (machine);
CREATE INDEX ix_stock_movement_lot_id ON stock_movement (lot_id);
CREATE INDEX ix_shop_order_step_order_id ON shop_order_step (order_id);
CREATE INDEX ix_shop_plan_order_id ON shop_plan (order_id);
CREATE TRIGGER stock_movement_update BEFORE UPDATE ON stock_movement BEGIN SELECT RAISE(ABORT, 'rows of stock_movement are never changed'); END;
CREATE TRIGGER stock_movement_delete BEFORE DELETE ON stock_movement BEGIN SELECT RAISE(ABORT, 'rows of stock_movement are never changed'); END;
CREATE TRIGGER shop_order_step_update BEFORE UPDATE ON shop_order_step BEGIN SELECT RAISE(ABORT, 'rows of shop_order_step are never changed'); END;
CREATE TRIGGER shop_order_step_delete BEFORE DELETE ON shop_order_step BEGIN SELECT RAISE(ABORT, 'rows of shop_order_step are never changed'); END;
