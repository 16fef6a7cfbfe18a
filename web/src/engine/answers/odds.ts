// Made from schema/odds.schema.json by `npm run answers`: not written by hand.

/**
 * The answer of `tillwrap odds --json`. Times are seconds after midnight of the day's first date.
 */
export interface Odds {
  format: 'tillwrap-odds-1';
  title: string;
  /**
   * how many were drawn
   */
  days: number;
  /**
   * which ones
   */
  seed: number;
  /**
   * every must-run device reaches off
   */
  probability: number;
  /**
   * ... and as much longer as that day is late
   */
  probability_with_overrun: number;
  /**
   * ... and all of the overrun the day states
   */
  probability_with_whole_overrun: number;
  /**
   * first must-run loss minus off, over the days
   */
  margin_s: {
    /**
     * one day in ten is shorter
     */
    p10: number;
    /**
     * the middle day
     */
    p50: number;
    /**
     * one day in ten is longer
     */
    p90: number;
  };
  /**
   * what the doubt comes from, largest first
   */
  drivers: {
    /**
     * which unknown
     */
    name: string;
    /**
     * of the margin's variance that goes with it alone
     */
    share: number;
  }[];
  /**
   * the kit goes off
   */
  off_s: number;
  /**
   * how late it may go
   */
  overrun_s: number;
  /**
   * off plus p10
   */
  safe_to_s: number;
  /**
   * off plus p50
   */
  likely_s: number;
  /**
   * What if one pack is dead.
   */
  one_loss: {
    /**
     * whichever pack it is, the day still wraps
     */
    holds: boolean;
    /**
     * the worst case; null when no pack is in use
     */
    worst: null | OneLossCase;
    /**
     * in words
     */
    sentence: string;
    /**
     * one a pack in use, worst first
     */
    cases: OneLossCase[];
  };
  /**
   * planned changes up to the end of the overrun
   */
  changes: {
    /**
     * where
     */
    holder: string;
    /**
     * pack out
     */
    out: string;
    /**
     * pack in
     */
    in: string;
    /**
     * as planned
     */
    at_s: number;
    /**
     * nine days in ten the pack out would serve to here
     */
    safe_to_s: number;
    /**
     * every other day
     */
    likely_s: number;
  }[];
  /**
   * one standard deviation of each unknown
   */
  spread: {
    /**
     * of all draws together
     */
    load: number;
    /**
     * of each device on its own
     */
    load_each: number;
    /**
     * of all packs and of those of one kind and age
     */
    capacity: number;
    /**
     * of each pack
     */
    capacity_each: number;
    /**
     * of all packs
     */
    resistance: number;
    /**
     * short of the stated charge
     */
    start_charge: number;
    /**
     * K
     */
    air_k: number;
    /**
     * of the bag's loss of heat
     */
    bag: number;
    /**
     * of the overrun the day states, how much of it is taken
     */
    overrun: number;
  };
}
/**
 * One pack dead from the start.
 */
export interface OneLossCase {
  /**
   * label
   */
  pack: string;
  /**
   * the day still wraps
   */
  survives: boolean;
  /**
   * as above, without it
   */
  margin_s: number;
  /**
   * first must-run loss without it
   */
  loss: null | Loss;
}
/**
 * The first must-run device to lose power.
 */
export interface Loss {
  /**
   * its name
   */
  device: string;
  /**
   * s after midnight of the first day
   */
  at_s: number;
  /**
   * the same as a clock time, " +1" for the next day
   */
  at: string;
  /**
   * what took the power away
   */
  cause:
    | 'low_volts'
    | 'collapse'
    | 'pack_flat'
    | 'pack_tripped'
    | 'pack_temperature'
    | 'pack_asleep'
    | 'holder_empty'
    | 'change'
    | 'ports_off'
    | 'fuse_open'
    | 'protector_tripped'
    | 'supply_off'
    | 'regulator_off'
    | 'not_connected';
  /**
   * the same in words
   */
  reason: string;
}
