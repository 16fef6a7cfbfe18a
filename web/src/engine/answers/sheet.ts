// Made from schema/sheet.schema.json by `npm run answers`: not written by hand.

/**
 * `tillwrap sheet DAY --json`. The parts from other answers are whole and have their own schemas.
 */
export interface PowerSheet {
  format: 'tillwrap-sheet-1';
  /**
   * of the day
   */
  title: string;
  /**
   * ISO 8601
   */
  date: string | null;
  /**
   * as printed: title, date, call, wrap, off
   */
  heading: string;
  verdict: string;
  /**
   * sentences under the verdict: one-loss, odds
   */
  under: string[];
  /**
   * forecast.schema.json, with odds
   */
  forecast: {
    format: 'tillwrap-forecast-1';
  };
  bring: {
    /**
     * in use up to the end of the overrun, or to the end of the day as stated where that is later, by first use
     */
    packs: {
      label: string;
      kind: string;
      title: string;
      /**
       * when it goes in first
       */
      first_s: number;
      /**
       * at the start of the day
       */
      charge: number;
      rechargeable: boolean;
      built_in: boolean;
      /**
       * place it waits in
       */
      spare: string;
    }[];
    /**
     * adapters and chargers
     */
    things: {
      name: string;
      kind: string;
      title: string;
    }[];
    /**
     * of those packs
     */
    mass_kg: number;
    /**
     * labels of the kit's other packs
     */
    not_in_plan: string[];
  };
  /**
   * before off; times in seconds after midnight of the first day
   */
  changes: {
    holder: string;
    /**
     * of the holder
     */
    place: string;
    out: string;
    in: string;
    /**
     * where the pack that goes in lies
     */
    in_waits: string;
    planned_s: number;
    /**
     * the pack coming out would serve so long on nine days in ten
     */
    safe_s: number;
    likely_s: number;
    /**
     * last moment hands reach it before that; before planned_s: the plan is too late; null where they do not
     */
    last_safe_s: number | null;
    /**
     * stretch in which hands reach the holder, the planned moment in it
     */
    window: {
      from_s: number;
      until_s: number;
    } | null;
  }[];
  /**
   * what goes in if the day goes on
   */
  past_off: {
    at_s: number;
    pack: string;
    holder: string;
  }[];
  /**
   * with nothing to buy, best first
   */
  helps: {
    words: string;
    gained_s: number;
  }[];
  /**
   * meters.schema.json: what to set, what it should read
   */
  meters: {
    format: 'tillwrap-meters-1';
  };
  /**
   * findings.schema.json
   */
  findings: {
    format: 'tillwrap-findings-1';
  };
  /**
   * expendables.schema.json, over as many days as --days says
   */
  expendables: {
    format: 'tillwrap-expendables-1';
  };
  cautions: string[];
  /**
   * what was computed, and from what
   */
  computed_from: string;
  /**
   * of the numbers of every kind in the kit that have none of their own (tillwrap catalogue KIND)
   */
  sources: {
    /**
     * catalogue id
     */
    kind: string;
    title: string;
    /**
     * how far its numbers can be trusted
     */
    mark: string;
    source: string;
    /**
     * ISO 8601
     */
    checked: string;
  }[];
  /**
   * as printed, in the user's wording
   */
  sections: {
    title: string;
    where: 'top' | 'left' | 'right' | 'foot';
    lines: string[];
    /**
     * to tick off
     */
    checks: {
      label: string;
      rest: string;
    }[];
    table: {
      columns: {
        title: string;
        /**
         * numbers
         */
        right: boolean;
        /**
         * space to write in
         */
        blank: boolean;
      }[];
      rows: string[][];
    } | null;
  }[];
}
