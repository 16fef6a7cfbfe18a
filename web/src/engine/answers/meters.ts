// Made from schema/meters.schema.json by `npm run answers`: not written by hand.

/**
 * The answer of `tillwrap meters --json`. V, A, Wh, s; fractions 0 to 1.
 */
export interface Meters {
  format: 'tillwrap-meters-1';
  title: string;
  /**
   * one for each kind of pack on each input of a device
   */
  meters: {
    /**
     * name
     */
    device: string;
    /**
     * where the pack sits
     */
    holder: string;
    /**
     * holders whose packs of the same kind carry with it: lasts_s, usable_wh and source_w are of all together
     */
    beside: string[];
    /**
     * of the catalogue
     */
    pack_kind: string;
    /**
     * the one discharged: gives most of its kind
     */
    pack: string;
    /**
     * all of the kind that serve there
     */
    packs: string[];
    /**
     * whose load and air the discharge has
     */
    period: string;
    /**
     * over the planned day, to everything it feeds
     */
    gives_wh: number;
    /**
     * from full until the device goes off
     */
    lasts_s: {
      /**
       * the forecast's own
       */
      expected: number;
      /**
       * one drawn day in ten is below
       */
      low: number;
      /**
       * one in ten is above
       */
      high: number;
    };
    /**
     * given by then
     */
    usable_wh: number;
    /**
     * mean
     */
    source_w: number;
    /**
     * cause, as in a forecast
     */
    ended: string;
    /**
     * the pack could have gone on giving
     */
    wasted_wh: number;
    /**
     * what tells more about the time left
     */
    guide: 'volts' | 'clock_then_volts' | 'clock';
    /**
     * volts move less than a display shows
     */
    flat: boolean;
    /**
     * share of the usable energy below which volts tell more than the clock
     */
    volts_below: number;
    /**
     * when half is left
     */
    worth_half: {
      /**
       * half the band of the time left, knowing when the pack went in
       */
      clock_s: number;
      /**
       * the same, knowing the volts shown
       */
      volts_s: number;
    };
    /**
     * when one would warn
     */
    worth_warning: {
      /**
       * half the band of the time left, knowing when the pack went in
       */
      clock_s: number;
      /**
       * the same, knowing the volts shown
       */
      volts_s: number;
    };
    /**
     * profiles are the device's own, not generic
     */
    own_list: boolean;
    /**
     * id to set; null: none fits
     */
    profile: string | null;
    /**
     * why it is not the pack's own profile although the device has that, or what to mind of the own one
     */
    why: string | null;
    /**
     * best first
     */
    profiles: {
      /**
       * of the catalogue; a generic one may be made from it
       */
      id: string;
      title: string;
      /**
       * reads full at
       */
      full_v: number;
      /**
       * warns below
       */
      warn_v: number;
      /**
       * reads empty at
       */
      empty_v: number;
      /**
       * shown when true is 1 (just in), 0.5 and 0.1 of the usable energy
       */
      reads: {
        full: number;
        half: number;
        near_end: number;
      };
      /**
       * mean size of reading minus truth
       */
      error: number;
      /**
       * this long before the device goes off; 0: never
       */
      warns_s: number;
      /**
       * still usable when it reads empty
       */
      empty_left_wh: number;
      /**
       * early: energy given away; late: goes off unwarned
       */
      timing: 'fine' | 'early' | 'late';
    }[];
    /**
     * what the day file says is set
     */
    set: string | null;
    /**
     * null: not said, or none fits
     */
    set_right: boolean | null;
    /**
     * to set at the device's terminals
     */
    volts: {
      /**
       * null: volts cannot warn
       */
      warn_v: number | null;
      /**
       * share of the usable energy then
       */
      warn_left: number;
      /**
       * time then
       */
      warn_left_s: number;
      /**
       * change by
       */
      change_v: number | null;
      /**
       * cut-off to set
       */
      cutoff_v: number;
      /**
       * of the device as it is
       */
      own_cutoff_v: number;
      /**
       * comes before the pack's own cut-off nine days in ten
       */
      guards: boolean;
      /**
       * at the device when the pack cuts itself off; null: the device is off before
       */
      trip_v: number | null;
    };
  }[];
  /**
   * one a device, for the packs that give it most
   */
  readings: {
    /**
     * name
     */
    device: string;
    /**
     * name
     */
    holder: string;
    /**
     * in order of time
     */
    rows: {
      /**
       * seconds after midnight of the first date
       */
      at_s: number;
      /**
       * clock time
       */
      at: string;
      moment: 'period' | 'hour' | 'before_change' | 'after_change' | 'before_off';
      /**
       * label
       */
      pack: string;
      /**
       * at the device
       */
      volts_v: {
        /**
         * the forecast's own
         */
        expected: number;
        /**
         * one drawn day in ten is below
         */
        low: number;
        /**
         * one in ten is above
         */
        high: number;
      };
      /**
       * of the pack, 0 to 1; null: it has none
       */
      gauge: {
        /**
         * the forecast's own
         */
        expected: number;
        /**
         * one drawn day in ten is below
         */
        low: number;
        /**
         * one in ten is above
         */
        high: number;
      } | null;
      /**
       * out of the pack
       */
      amps_a: {
        /**
         * the forecast's own
         */
        expected: number;
        /**
         * one drawn day in ten is below
         */
        low: number;
        /**
         * one in ten is above
         */
        high: number;
      };
      /**
       * its planned change, or off
       */
      until_s: number;
      /**
       * at or below: one such day in ten it would not reach its change; null: not to be expected, or the reading tells too little
       */
      early_v: number | null;
      /**
       * the same for the gauge
       */
      early_gauge: number | null;
    }[];
  }[];
}
