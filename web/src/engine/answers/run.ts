// Made from schema/run.schema.json by `npm run answers`: not written by hand.

/**
 * Charge is a fraction; times are seconds after midnight of each day's own first date.
 */
export interface Run {
  format: 'tillwrap-run-1';
  title: string;
  /**
   * number of the first day that does not last, from 1
   */
  first_failure: number | null;
  reasons: string[];
  days: {
    file: string;
    date: string | null;
    place: string;
    reaches_wrap: boolean;
    /**
     * first loss after off; negative: before
     */
    margin_s: number;
    margin_is_least: boolean;
    failure: string | null;
    /**
     * how choose went; null: as the day file has it
     */
    chosen: string | null;
    /**
     * sets thrown away that day
     */
    fresh_cells: number;
    packs: {
      label: string;
      rechargeable: boolean;
      used: boolean;
      /**
       * charge as the day begins
       */
      at_call: number;
      at_off: number;
      /**
       * when the rest ends
       */
      after_rest: number;
      /**
       * self-discharge until the next day begins
       */
      lost_lying: number;
      drawn_ah: number;
      /**
       * in the rest
       */
      put_in_ah: number;
      /**
       * of which its cells keep
       */
      stored_ah: number;
    }[];
    rest: null | {
      from_s: number;
      until_s: number;
      needed: number;
      needed_ready: number;
      proven_best: boolean;
      get_up_s: number[];
      verdict: string;
    };
  }[];
  packs: {
    label: string;
    kind: string;
    capacity_ah: number;
    drawn_ah: number;
    /**
     * full ones that makes
     */
    cycles: number;
    days_used: number;
    health_before: number;
    /**
     * at the end
     */
    health: number;
  }[];
  /**
   * what was taken of each pack the journal knows, null where the day file's word stands; null without a journal
   */
  journal:
    | {
        label: string;
        charge: number | null;
        /**
         * over new
         */
        capacity: number | null;
        /**
         * over new
         */
        resistance: number | null;
      }[]
    | null;
  /**
   * the smallest; each makes every day last
   */
  additions: {
    pack_kind: string | null;
    packs: number;
    charger: string | null;
    bays: number;
  }[];
  /**
   * most cycles less fewest among packs of one kind
   */
  uneven_cycles: number;
  /**
   * of charging, each once
   */
  cautions: string[];
}
