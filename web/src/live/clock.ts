// The service's clock, told by the times in its messages and carried on in between.

/** How far apart the two clocks may drift before the page jumps, real ms. */
const jump = 2_000;

export class ServiceClock {
  private told = 0;
  private at = 0;
  private started = false;

  /** `pace`: how many times faster than real time the service's clock runs. */
  constructor(public pace = 1) {}

  /** A message said `time` (ms since 1970) and was received at `real` (ms, monotonic). */
  hear(time: number, real: number): void {
    if (!Number.isFinite(time)) return;
    const error = time - this.now(real);
    // A message can only be late, never early: believe at once what is ahead of our estimate,
    // and slow down gently for what is behind it.
    const believed =
      !this.started || error > 0 || error < -jump * this.pace ? time : this.now(real) + error * 0.05;
    this.told = believed;
    this.at = real;
    this.started = true;
  }

  /** Service time at `real`, ms since 1970; 0 before the first message. */
  now(real: number): number {
    return this.started ? this.told + (real - this.at) * this.pace : 0;
  }
}
