// How far it is from tag to tag, from the time between them: an estimate, with how good it is.
import type { Doubt, Leg } from './walk.ts';

/** What is known of a leg besides its time, mm. */
export interface Known {
  /** Set by the person who surveys. */
  set?: number | undefined;
  /** Of the segment that the floor has there already. */
  drawn?: number | undefined;
}

export interface Pace {
  /** mm/s. */
  speed: number;
  /** Part of a distance that it may be wrong by. */
  share: number;
  /** Legs of known length that it was measured on; 0: it is the floor file's speed of a cart. */
  legs: number;
}

export interface Distance {
  mm: number;
  /** It may be wrong by so much, mm. */
  error: number;
  /** Where that comes from. */
  how: 'set' | 'drawn' | 'timed' | 'guess';
  doubt: Doubt | 'long';
}

/**
 * Common practice, no source: a person who drives by hand keeps a chosen speed to a quarter, and one
 * they have found to a tenth; the radio and the reader blur each time by 0.2 s.
 */
const unmeasuredShare = 0.25;
const measuredShare = 0.1;
const blur = 0.2;
/** A leg that took so many times the middle one: the cart stood, unless it tells when it stands. */
const farBeyond = 4;
const least = 100;
/** With nothing at all to go by. */
const anyDistance = 1_000;

const middleOf = (values: readonly number[]): number | undefined => {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor((sorted.length - 1) / 2)];
};
const whole = (mm: number) => Math.max(least, Math.round(mm / 10) * 10);

/** The speed the cart was driven at, from the legs whose length is known. */
export function paceOf(legs: readonly Leg[], known: readonly Known[], cartSpeed: number): Pace {
  let [mm, seconds] = [0, 0];
  const speeds: number[] = [];
  legs.forEach((leg, k) => {
    const length = known[k]?.set ?? known[k]?.drawn;
    if (length === undefined || leg.ms === null || leg.doubt) return;
    mm += length;
    seconds += leg.ms / 1_000;
    speeds.push(length / (leg.ms / 1_000));
  });
  if (speeds.length === 0) return { speed: cartSpeed, share: unmeasuredShare, legs: 0 };
  const speed = mm / seconds;
  const apart = Math.max(...speeds.map((one) => Math.abs(one - speed) / speed));
  return { speed, share: Math.max(measuredShare, apart), legs: speeds.length };
}

/** `tellsMoving`: the cart says when it stands, so a long time is a long way. */
export function distancesOf(legs: readonly Leg[], known: readonly Known[], pace: Pace, tellsMoving: boolean): Distance[] {
  const usual = middleOf(legs.flatMap((leg) => (leg.ms !== null && leg.doubt === '' ? [leg.ms] : [])));
  const usualMm = usual === undefined ? anyDistance : whole((usual / 1_000) * pace.speed);
  return legs.map((leg, k): Distance => {
    const { set, drawn } = known[k] ?? {};
    if (set !== undefined) return { mm: set, error: 0, how: 'set', doubt: '' };
    if (drawn !== undefined) return { mm: drawn, error: 0, how: 'drawn', doubt: '' };
    if (leg.ms === null || leg.doubt === 'quick') return guess(usualMm, leg.doubt);
    if (!tellsMoving && usual !== undefined && leg.ms > farBeyond * usual) return guess(usualMm, 'long');
    const mm = whole((leg.ms / 1_000) * pace.speed);
    const error = mm * pace.share + blur * pace.speed;
    // Braking and starting lie within the time.
    if (leg.doubt === 'stood') return { mm, error: Math.max(error, mm / 2), how: 'guess', doubt: 'stood' };
    return { mm, error, how: 'timed', doubt: '' };
  });
}

const guess = (mm: number, doubt: Distance['doubt']): Distance => ({ mm, error: mm / 2, how: 'guess', doubt });
