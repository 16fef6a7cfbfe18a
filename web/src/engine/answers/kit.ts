// Made from schema/kit.schema.json by `npm run answers`: not written by hand.

/**
 * RFC 3339
 */
export type Moment = string | null;
/**
 * ISO 8601 date; null: not within 20 years
 */
export type Day = string | null;

/**
 * The answer of `tillwrap kit --json`. Fractions; bands hold nine times in ten.
 */
export interface Kit {
  format: 'tillwrap-kit-1';
  at: Moment;
  packs: {
    /**
     * label
     */
    pack: string;
    /**
     * list packs; null: never told
     */
    kind: string | null;
    bought: string | null;
    /**
     * now; null: never told
     */
    charge: Band | null;
    told: {
      charge: number;
      at: Moment;
      by: 'charged' | 'taken_out' | 'used' | 'reading';
    } | null;
    capacity: Band1;
    resistance: Band2;
    /**
     * of the capacity
     */
    rate_per_year: number;
    tests: number;
    field_days: number;
    /**
     * when its capacity goes under 80 %
     */
    retire: {
      low: Day;
      middle: Day;
      high: Day;
    };
    course: {
      capacity: Course;
      resistance: Course;
    };
    /**
     * a pack bought with it that holds more by more than chance
     */
    weaker_than: string | null;
    place: string | null;
    holder: string | null;
    last_used: Moment;
    last_charged: Moment;
    charges: number;
    used_ah: number;
    retired: Moment;
    advice: string;
    notes: string[];
  }[];
  remarks: {
    id: string;
    text: string;
  }[];
}
export interface Band {
  low: number;
  middle: number;
  high: number;
}
/**
 * over new
 */
export interface Band1 {
  low: number;
  middle: number;
  high: number;
}
/**
 * over new
 */
export interface Band2 {
  low: number;
  middle: number;
  high: number;
}
/**
 * what was found, and the line through it with its band, from new to some years ahead
 */
export interface Course {
  results: Dated[];
  trend: Dated[];
}
export interface Dated {
  /**
   * ISO 8601 date
   */
  at: string;
  low: number;
  middle: number;
  high: number;
}
