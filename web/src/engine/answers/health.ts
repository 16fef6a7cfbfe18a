// Made from schema/health.schema.json by `npm run answers`: not written by hand.

export type Maybe = number | null;
/**
 * ISO 8601 date; null: not within 20 years
 */
export type Day = string | null;

/**
 * The answer of `tillwrap health --json`. Fractions over new, V, Ah; bands hold nine times in ten.
 */
export interface Health {
  format: 'tillwrap-health-1';
  /**
   * label, of a pack of the journal
   */
  pack: string | null;
  advice: string;
  log: {
    name: string;
    /**
     * pack kind, cell, or the parameter file's cell
     */
    of: string;
    /**
     * false: it does not look like a log of that; nothing is told
     */
    plausible: boolean;
    why_not: string | null;
    /**
     * cell of another chemistry whose volts these are rather
     */
    looks_like: string | null;
    /**
     * cells of another chemistry from which the volts cannot tell it, and its health if it has those; the advice goes by the least kind
     */
    as_well: {
      cell: string;
      rms_v: number;
      capacity: Band;
      resistance: Band;
    }[];
    by: 'run_down' | 'part' | 'field_day' | 'gauge_alone';
    /**
     * share of its capacity the log draws
     */
    covers: number;
    drawn_ah: number;
    /**
     * a cell, above 10 % charge
     */
    rms_v: number;
    capacity: Band;
    /**
     * false: the log cannot tell
     */
    capacity_told: boolean;
    resistance: Band;
    resistance_told: boolean;
    gauge: {
      full_ah: Maybe;
      design_ah: Maybe;
      cycles: Maybe;
      /**
       * full over design
       */
      claims: number | null;
      counted_ah: Maybe;
      flowed_ah: Maybe;
      wrong_capacity: boolean;
      wrong_count: boolean;
    } | null;
    /**
     * where the log has volts of each cell in series; null: one weak cell cannot be told from cells that all hold less
     */
    cells: {
      each: {
        /**
         * as its column is named
         */
        cell: number;
        capacity: Band1;
        resistance: Band2;
        /**
         * above the others' mean when the log began
         */
        start_charge: number;
        /**
         * false: the log draws too little
         */
        capacity_told: boolean;
        /**
         * from there until it shows its end volts, as of the whole pack
         */
        gives_ah: number;
      }[];
      /**
       * cell that ends first
       */
      weakest: number;
      /**
       * it ends the pack over 2 % sooner than the next would, by more than chance
       */
      weak: boolean;
      /**
       * it began over 1 % emptier than the others, by more than chance
       */
      out_of_balance: boolean;
      shorter: Band3;
      words: string;
    } | null;
    notes: string[];
  } | null;
  /**
   * with --day: what the readings of one day say of all packs in use on it, by its wiring and loads
   */
  day: {
    /**
     * the day file
     */
    name: string;
    /**
     * ISO 8601
     */
    date: string;
    /**
     * readings
     */
    weighed: number;
    packs: {
      pack: string;
      /**
       * null: that day cannot tell
       */
      capacity: Band | null;
      resistance: Band | null;
    }[];
    /**
     * packs that cannot be told apart, and what both hold over new
     */
    together: {
      packs: string[];
      capacity: Band;
    }[];
    /**
     * what was left aside, and why
     */
    notes: string[];
  } | null;
  trend: {
    capacity: Band;
    resistance: Band;
    rate_per_year: number;
    tests: number;
    field_days: number;
    retire: {
      low: Day;
      middle: Day;
      high: Day;
    };
    weaker_than: string | null;
    /**
     * each time in a holder in which anything was read, by the journal
     */
    in_use: {
      holder: string;
      /**
       * RFC 3339, UTC
       */
      in: string;
      /**
       * null: still in
       */
      out: string | null;
      /**
       * readings weighed
       */
      amps: number;
      /**
       * readings weighed
       */
      volts: number;
      /**
       * between the charges told, or of all of it
       */
      drawn_ah: number | null;
      /**
       * charge first told
       */
      from: number | null;
      /**
       * charge last told
       */
      to: number | null;
      capacity: Band | null;
      resistance: Band | null;
      /**
       * why not, and what was left aside
       */
      cannot_tell: string[];
    }[];
  } | null;
}
export interface Band {
  low: number;
  middle: number;
  high: number;
}
/**
 * over the others' mean
 */
export interface Band1 {
  low: number;
  middle: number;
  high: number;
}
/**
 * over the others' mean
 */
export interface Band2 {
  low: number;
  middle: number;
  high: number;
}
/**
 * 1 less what it gives over what the next gives
 */
export interface Band3 {
  low: number;
  middle: number;
  high: number;
}
