// Made from schema/recharge.schema.json by `npm run answers`: not written by hand.

/**
 * Times are seconds after the midnight before the day's first date, local; charge is a fraction.
 */
export interface Recharge {
  format: 'tillwrap-recharge-1';
  title: string;
  from_s: number;
  from: string;
  until_s: number;
  until: string;
  verdict: string;
  needed: number;
  needed_ready: number;
  /**
   * no plan of the kind searched is better
   */
  proven_best: boolean;
  /**
   * of the plan, compared from the top down
   */
  cost: {
    /**
     * needed packs (or parts of a set) not ready
     */
    not_ready: number;
    /**
     * Wh they are short
     */
    short_needed_wh: number;
    get_ups: number;
    /**
     * Wh others are short
     */
    short_others_wh: number;
    /**
     * of charging with nobody awake, all packs together
     */
    asleep_minutes: number;
    put_ins: number;
    /**
     * spent full before the end, all together
     */
    full_minutes: number;
  };
  /**
   * no plan costs less
   */
  bound: {
    /**
     * needed packs (or parts of a set) not ready
     */
    not_ready: number;
    /**
     * Wh they are short
     */
    short_needed_wh: number;
    get_ups: number;
    /**
     * Wh others are short
     */
    short_others_wh: number;
    /**
     * of charging with nobody awake, all packs together
     */
    asleep_minutes: number;
    put_ins: number;
    /**
     * spent full before the end, all together
     */
    full_minutes: number;
  };
  get_up_s: number[];
  there: {
    from_s: number;
    until_s: number;
  }[];
  asleep: {
    from_s: number;
    until_s: number;
  }[];
  packs: {
    label: string;
    needed: boolean;
    /**
     * charge as the day leaves it
     */
    left: number;
    /**
     * charge at which it is ready; 1: what its charger calls full
     */
    wanted: number;
    /**
     * when the rest ends
     */
    charge: number;
    ready: boolean;
    /**
     * null: not
     */
    ready_at_s: number | null;
    why: 'ready' | 'time' | 'no_charger' | 'too_cold' | 'too_hot' | 'not_chargeable';
    /**
     * charging time with its quickest charger to itself
     */
    alone_s: number | null;
    /**
     * not charged before that moment: too cold or too hot
     */
    warm_at_s: number | null;
  }[];
  stays: {
    /**
     * with the part of the set
     */
    label: string;
    pack: string;
    /**
     * loose cells in this part; 0: the whole pack
     */
    cells: number;
    charger: string;
    /**
     * first one, from 1
     */
    bay: number;
    bays: number;
    in_s: number;
    out_s: number;
    /**
     * null: not
     */
    full_s: number | null;
    start_charge: number;
    end_charge: number;
    /**
     * spent too cold or too hot to charge
     */
    warming_s: number;
    put_in_ah: number;
    stored_ah: number;
    /**
     * at the pack
     */
    put_in_wh: number;
    /**
     * in its cells, at rested volts
     */
    stored_wh: number;
    /**
     * from the supply
     */
    taken_wh: number;
    /**
     * pairs of time and charge
     */
    curve: [number, number][];
  }[];
  chargers: {
    name: string;
    bays: number;
    air_c: number;
    live: {
      from_s: number;
      until_s: number;
    }[];
  }[];
  help: {
    kind: 'bay' | 'charger' | 'earlier' | 'later' | 'get_up' | 'asleep' | 'warmth' | 'watts';
    charger: string | null;
    count: number;
    seconds: number;
    ready: number;
    all: boolean;
  }[];
  /**
   * used and not chargeable: new cells
   */
  fresh: string[];
  /**
   * the same day again on these packs reaches off; null: the rest lies within the day
   */
  again_reaches: boolean | null;
  /**
   * its margin
   */
  again_margin_s: number | null;
  reasons: string[];
  cautions: string[];
}
