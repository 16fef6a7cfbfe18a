// Made from schema/track.schema.json by `npm run answers`: not written by hand.

/**
 * The answer of `tillwrap track --json`. Times are seconds after midnight of the day's first date.
 */
export interface Track {
  format: 'tillwrap-track-1';
  title: string;
  /**
   * now
   */
  at_s: number;
  /**
   * when the kit may go off, as the day stands
   */
  off_s: number;
  /**
   * every must-run device reaches off
   */
  probability: number;
  /**
   * one day in ten ends earlier
   */
  safe_s: number;
  /**
   * half of them end earlier
   */
  likely_s: number;
  /**
   * the same before the readings
   */
  plan_safe_s: number;
  plan_likely_s: number;
  /**
   * likely_s over plan_likely_s; negative: behind
   */
  ahead_s: number;
  /**
   * the same if nothing is changed from now on
   */
  hands_safe_s: number;
  hands_likely_s: number;
  roll: {
    seconds: number;
    /**
     * with nine in ten
     */
    yes: boolean;
    probability: number;
  };
  /**
   * the day runs so much late
   */
  late_s: number;
  /**
   * empty when nothing presses
   */
  warning: string;
  /**
   * effective sample size; 400 wanted
   */
  effective: number;
  /**
   * it is reached
   */
  settled: boolean;
  readings: {
    id: string;
    at_s: number;
    /**
     * as the line has it; "charge" of a pack taken out
     */
    point: string;
    of: string;
    value: number;
    expected: number;
    /**
     * 5 % of the points give less
     */
    low: number;
    /**
     * 5 % give more
     */
    high: number;
    /**
     * probability that it is a mistake
     */
    doubt: number;
    doubted: boolean;
    /**
     * of a doubted one: the value with its decimal point elsewhere, where that fits
     */
    slipped: number | null;
    /**
     * of a doubted one: the other thing of its kind that it fits
     */
    fits: string | null;
    /**
     * why a doubted one may be wrong; else empty
     */
    reason: string;
  }[];
  unknowns: {
    name: string;
    /**
     * share of its doubt the readings leave
     */
    left: number;
  }[];
  notes: string[];
  /**
   * holders a pack was taken out of with nothing put in
   */
  empty: {
    holder: string;
    since_s: number;
    /**
     * the pack that came out
     */
    out: string;
    /**
     * planned to go in at a fixed time; null: nothing goes in until a line says so
     */
    next: string | null;
    next_s: number | null;
    /**
     * devices it feeds that are to run now and have no power, on the usual course of the day
     */
    dark: string[];
    /**
     * those that run on from elsewhere
     */
    running: string[];
    words: string;
  }[];
  /**
   * what goes first, as planned and then on past off, most often first; days on which nothing goes are in no share
   */
  first_to_go: {
    device: string;
    /**
     * of all days it may be
     */
    share: number;
  }[];
  /**
   * of each holder the next to come, the soonest needed first
   */
  changes: {
    holder: string;
    place: string;
    out: string;
    in: string;
    /**
     * where the pack going in lies
     */
    in_waits: string;
    planned_s: number;
    /**
     * one time in ten the pack in use ends earlier
     */
    safe_s: number;
    likely_s: number;
    /**
     * last moment from now on at which hands reach it while the pack in use is safe; before planned_s: the plan is too late; null where they do not
     */
    last_safe_s: number | null;
  }[];
}
