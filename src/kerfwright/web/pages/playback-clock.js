/* One clock for everything that is played. It runs by the screen's frames; where less motion is
   wished for it goes on in steps instead. */

const STEP_MS = 1000;
const calm = window.matchMedia("(prefers-reduced-motion: reduce)");

export class Clock {
  constructor() {
    this.time_s = 0;
    this.total_s = 0;
    this.speed = 1;
    this.playing = false;
    this.listeners = [];
  }

  /* then(clock, why): why is "time", "seek" (a jump), or "state" (played, paused, another speed). */
  on(then) {
    this.listeners.push(then);
  }

  tell(why) {
    for (const then of this.listeners) then(this, why);
  }

  span(total_s) {
    this.total_s = total_s;
    this.seek(Math.min(this.time_s, total_s));
  }

  seek(time_s) {
    this.time_s = Math.min(Math.max(time_s, 0), this.total_s);
    this.tell("seek");
  }

  setSpeed(speed) {
    this.speed = speed;
    this.tell("state");
  }

  play() {
    if (this.playing || this.total_s <= 0) return;
    if (this.time_s >= this.total_s) this.seek(0);
    this.playing = true;
    this.tell("state");
    this.run(performance.now());
  }

  pause() {
    if (!this.playing) return;
    this.playing = false;
    this.tell("state");
  }

  run(before) {
    const frame = (now) => {
      if (!this.playing) return;
      if (calm.matches && now - before < STEP_MS) {
        requestAnimationFrame(frame);
        return;
      }
      this.time_s = Math.min(this.time_s + (Math.max(now - before, 0) / 1000) * this.speed, this.total_s);
      before = now;
      this.tell("time");
      if (this.time_s >= this.total_s) this.pause();
      else requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  }
}
