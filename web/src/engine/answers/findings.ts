// Made from schema/findings.schema.json by `npm run answers`: not written by hand.

/**
 * The answer of `tillwrap findings --json`. Figures carry their unit in their name; times are seconds after midnight of the day's first date.
 */
export interface Findings {
  format: 'tillwrap-findings-1';
  title: string;
  summary: string;
  /**
   * something here stops the day
   */
  stops: boolean;
  /**
   * worst first; each rule at most once
   */
  findings: {
    /**
     * its mark in the drawing
     */
    number: number;
    rule:
      | 'collapse'
      | 'drop'
      | 'overload'
      | 'near_limit'
      | 'fuse_load'
      | 'pptc_warm'
      | 'fuse_wire'
      | 'fuse_slow'
      | 'fuse_missing'
      | 'inrush'
      | 'reversible'
      | 'centre_negative'
      | 'check_polarity'
      | 'loose_plug'
      | 'not_locking'
      | 'worn_contacts'
      | 'shield_return'
      | 'splitter'
      | 'over_volts'
      | 'phantom_limit'
      | 'stored_drain'
      | 'back_feed'
      | 'unequal_packs'
      | 'pd_outage'
      | 'vehicle'
      | 'bank_sleep'
      | 'mixed_cells'
      | 'cold_alkaline'
      | 'knocked_switch'
      | 'single_point';
    severity: 'stops' | 'harms' | 'costs' | 'note';
    title: string;
    advice: string;
    /**
     * where the limit comes from
     */
    source: string;
    /**
     * @minItems 1
     */
    places: [
      {
        line: number;
        column: number;
        what: string;
        names: string[];
        text: string;
        /**
         * the numbers of the rule
         */
        figures: {
          [k: string]: number;
        };
      },
      ...{
        line: number;
        column: number;
        what: string;
        names: string[];
        text: string;
        /**
         * the numbers of the rule
         */
        figures: {
          [k: string]: number;
        };
      }[]
    ];
  }[];
  /**
   * of the day file, where no rule has more to say
   */
  warnings: {
    line: number;
    column: number;
    text: string;
  }[];
}
