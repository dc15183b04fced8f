-- The records as form 1 left them: made by SQLAlchemy alone, before there were migrations.
-- All runs are invented.
CREATE TABLE record_schema (
	version INTEGER NOT NULL, 
	CONSTRAINT pk_record_schema PRIMARY KEY (version)
);
INSERT INTO record_schema VALUES(1);
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
INSERT INTO run VALUES(1,'2026-05-04 12:00:00.500000',NULL,'2026-05-04','trial machine','c10c','Regatta',1,'offcut','board','01-board-offcut.nc','abababababababababababababababababababababababababababababababab',1,100.0,NULL,110.0,NULL,'');
INSERT INTO run VALUES(2,'2026-05-05 08:30:00.000000','2026-05-05 09:00:00.000000','2026-05-05','trial machine','c10c','Regatta',1,'offcut','board','01-board-offcut.nc','abababababababababababababababababababababababababababababababab',2,100.0,104.5,512.25,3,'lid left open 🛶');
INSERT INTO run VALUES(3,'2026-05-05 10:00:00.000000',NULL,'2026-05-05','other','77aa','Lantern',2,'new','ply','02-ply-new.nc','cdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcd',1,0.125,NULL,600.0,0,'');
CREATE TABLE run_process (
	run_id INTEGER NOT NULL, 
	process VARCHAR(32) NOT NULL, 
	computed_s DOUBLE NOT NULL, 
	CONSTRAINT pk_run_process PRIMARY KEY (run_id, process), 
	CONSTRAINT fk_run_process_run_id FOREIGN KEY(run_id) REFERENCES run (id)
);
INSERT INTO run_process VALUES(1,'cut',60.0);
INSERT INTO run_process VALUES(1,'engrave',30.0);
INSERT INTO run_process VALUES(2,'cut',60.0);
CREATE INDEX ix_run_machine ON run (machine);
