// Made from schema/forecast.schema.json by `npm run answers`: not written by hand.

/**
 * What one computed day says. Times are seconds after midnight of the day's first date, local; energies Wh, volts V, charge a fraction. Readers should ignore keys they do not know.
 */
export interface Forecast {
  format: 'tillwrap-forecast-1';
  /**
   * the day's
   */
  title: string;
  /**
   * one sentence
   */
  verdict: string;
  /**
   * every device that must run does so from call to off
   */
  reaches_wrap: boolean;
  /**
   * as stated: first must-run loss minus off; the last period's load goes on past off; negative: before off
   */
  margin_s: number;
  /**
   * no loss was found as far as was looked: the margin is at least this
   */
  margin_is_least: boolean;
  /**
   * call
   */
  call_s: number;
  /**
   * wrap
   */
  wrap_s: number;
  /**
   * end of wrap-out
   */
  off_s: number;
  /**
   * one day in ten ends earlier; stated_s where no odds were counted
   */
  safe_to_s: number;
  /**
   * every other day ends earlier; stated_s where no odds were counted
   */
  likely_s: number;
  /**
   * first must-run loss with everything exactly as stated: off_s plus margin_s
   */
  stated_s: number;
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
   * null when nothing fails as far as was looked; may lie after off
   */
  first_loss: null | Loss;
  /**
   * packs out and in, up to off
   */
  changes: {
    /**
     * where
     */
    holder: string;
    /**
     * label
     */
    out: string;
    /**
     * label
     */
    in: string;
    /**
     * hands out
     */
    at_s: number;
    /**
     * the same as a clock time, " +1" for the next day
     */
    at: string;
  }[];
  /**
   * each turn of a pack in a holder, up to off
   */
  packs: {
    /**
     * the pack
     */
    label: string;
    /**
     * where
     */
    holder: string;
    /**
     * in
     */
    in_s: number;
    /**
     * out, at most off
     */
    out_s: number;
    /**
     * going in; a little over 1 where a charger ends above the cells' full rested volts
     */
    start_charge: number;
    /**
     * at out_s; a little over 1 where a charger ends above the cells' full rested volts
     */
    end_charge: number;
    /**
     * given at its terminals
     */
    delivered_wh: number;
    /**
     * °C, coldest in this turn
     */
    coldest_c: number;
    /**
     * V, lowest under load
     */
    lowest_v: number | null;
  }[];
  /**
   * each turn of a pack in a charger bay
   */
  charging: {
    /**
     * the pack
     */
    label: string;
    /**
     * bay
     */
    holder: string;
    /**
     * in
     */
    in_s: number;
    /**
     * out
     */
    out_s: number;
    /**
     * going in; a little over 1 where a charger ends above the cells' full rested volts
     */
    start_charge: number;
    /**
     * at out_s; a little over 1 where a charger ends above the cells' full rested volts
     */
    end_charge: number;
    /**
     * put in at its terminals
     */
    charged_wh: number;
  }[];
  devices: {
    /**
     * the device
     */
    name: string;
    /**
     * taken at its terminals
     */
    energy_wh: number;
    /**
     * V, while on; null: never on
     */
    lowest_v: number | null;
    /**
     * when
     */
    lowest_at_s: number | null;
    /**
     * out of action from call to off, its own off modes not counted
     */
    off_s: number;
    /**
     * V lost in cables at that moment
     */
    cable_drop_v: number | null;
    /**
     * V lost in contacts and fuses at that moment
     */
    contact_drop_v: number | null;
  }[];
  /**
   * Where the energy goes, first period to off; drawn_wh is the sum of the other five. Null with the page's quick answers.
   */
  account: null | {
    /**
     * open-circuit energy of all sources
     */
    drawn_wh: number;
    /**
     * sum over devices
     */
    devices_wh: number;
    /**
     * copper
     */
    cables_wh: number;
    /**
     * plugs, holders, fuses, switches
     */
    contacts_wh: number;
    /**
     * regulators, banks, diodes
     */
    converters_wh: number;
    /**
     * inside packs and sources
     */
    cells_wh: number;
    /**
     * |drawn - sum| / drawn
     */
    imbalance: number;
  };
  /**
   * the same plan over many days
   */
  odds: null | {
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
  };
  warnings: {
    line: number;
    column: number;
    /**
     * in words
     */
    text: string;
  }[];
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
