// Made from schema/choose.schema.json by `npm run answers`: not written by hand.

/**
 * The answer of `tillwrap choose --json`. Times are seconds after midnight of the day's first date.
 */
export interface Choice {
  format: 'tillwrap-choose-1';
  title: string;
  /**
   * every must-run device reaches end_s with the probability asked for, on the common and on the fresh days, and with any one pack dead when asked
   */
  feasible: boolean;
  /**
   * probability asked for
   */
  sure: number;
  /**
   * share of the fresh days the plan covers; 0 without a plan
   */
  probability: number;
  /**
   * half of its 95 % interval
   */
  half_width: number;
  fresh_days: number;
  /**
   * common days searched on
   */
  days: number;
  /**
   * of them, for the lower limit of Clopper and Pearson to reach sure
   */
  days_needed: number;
  /**
   * of them by this plan, whole days simulated
   */
  days_covered: number;
  /**
   * days on which the search's tables and whole days disagree about this plan
   */
  days_differ: number;
  /**
   * off, and the overrun asked for
   */
  end_s: number;
  /**
   * any one pack may be dead when its turn comes
   */
  one_loss: boolean;
  proven_best: boolean;
  /**
   * of the plan, compared in this order
   */
  cost: {
    changes: number;
    packs: number;
    grams: number;
    /**
     * of cells thrown away, in the currency of their prices
     */
    cents: number;
    /**
     * millionths of the packs' lives
     */
    wear: number;
  };
  /**
   * no plan costs less: every holder with all packs to itself
   */
  bound: {
    changes: number;
    packs: number;
    grams: number;
    /**
     * of cells thrown away, in the currency of their prices
     */
    cents: number;
    /**
     * millionths of the packs' lives
     */
    wear: number;
  };
  assignments: {
    holder: string;
    /**
     * false: what it feeds need not run; it gets what is left
     */
    must_run: boolean;
    /**
     * in order
     */
    packs: {
      label: string;
      in_at_s: number;
      out_at_s: number;
      /**
       * how long the change that puts it in may wait
       */
      last_safe_s: number;
      /**
       * was on charge since it last served here
       */
      charged: boolean;
    }[];
  }[];
  charging: {
    label: string;
    bay: string;
    from_s: number;
    until_s: number;
  }[];
  /**
   * cells in use that are thrown away
   */
  fresh: {
    packs: string[];
    cells: number;
    /**
     * the user's prices, in `currency`
     */
    cost_own: number | null;
    currency: string;
    /**
     * the catalogue's guesses
     */
    cost_guess_usd: number | null;
  };
  /**
   * labels of packs that come along for one-loss
   */
  spares: string[];
  /**
   * labels of packs the plan does without
   */
  home: string[];
  /**
   * what takes a dead pack's place
   */
  stand_ins: {
    dead: string;
    holder: string;
    spare: string | null;
    /**
     * the pack ahead of it stays in
     */
    stays_in: boolean;
    days_covered: number;
    holds: boolean;
  }[];
  /**
   * without a plan
   */
  missing: {
    /**
     * null: what no choice touches, such as a built-in cell
     */
    holder: string | null;
    /**
     * dark from then on, on too many days
     */
    from_s: number;
    /**
     * it could be served if the others were not
     */
    shared: boolean;
  }[];
  /**
   * smallest first; each searched
   */
  additions: {
    kinds: string[];
    grams: number;
    cents: number;
    /**
     * of the common days
     */
    probability: number;
  }[];
  reasons: string[];
  /**
   * day file the plan was written into
   */
  written: string | null;
}
