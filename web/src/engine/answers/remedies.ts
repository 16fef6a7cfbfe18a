// Made from schema/remedies.schema.json by `npm run answers`: not written by hand.

export interface Remedies {
  format: 'tillwrap-remedies-1';
  title: string;
  /**
   * what was looked for
   */
  goal: 'reach_off' | 'one_loss' | 'overrun' | 'more';
  days: number;
  seed: number;
  off_s: number;
  overrun_s: number;
  base: Outcome;
  /**
   * steps that help, best first
   */
  remedies: {
    kind:
      | 'switch_off'
      | 'reduce'
      | 'phantom'
      | 'cable'
      | 'contacts'
      | 'plug'
      | 'cutoff'
      | 'change'
      | 'window'
      | 'top_up'
      | 'mains'
      | 'newer_pack'
      | 'charge'
      | 'warm_spares'
      | 'warm_bag'
      | 'warm_holder'
      | 'pack'
      | 'other_kind'
      | 'second_input'
      | 'higher_volts'
      | 'two_cups';
    words: string;
    /**
     * to have the packs it adds full again by the next call, beyond what the day as it is takes already; null: it adds none that are charged
     */
    chargers: {
      /**
       * charger of the catalogue to get; null: none
       */
      kind: string | null;
      /**
       * so many of it
       */
      add: number;
      /**
       * theirs
       */
      bays: number;
      /**
       * of the day's chargers that take such packs
       */
      own_bays: number;
      /**
       * of this kind, used in the day
       */
      packs: number;
      /**
       * false: no number of chargers does it
       */
      enough: boolean;
      /**
       * only where it charges while nobody is awake there, too
       */
      overnight: boolean;
      /**
       * [rest] does not say when somebody is there
       */
      hours_assumed: boolean;
      from_s: number;
      until_s: number;
      price: Money;
      mass_kg: number;
    } | null;
    /**
     * what is taken for granted
     */
    note: string | null;
    money: Money1;
    mass_kg: number;
    /**
     * seconds of hands on the day
     */
    hands_s: number;
    /**
     * somebody else has to agree
     */
    ask: boolean;
    buy: boolean;
    gain: Gain;
    /**
     * reaches the goal by itself
     */
    enough: boolean;
    outcome: Outcome;
  }[];
  /**
   * words of the step that is enough at the least cost
   */
  cheapest: string | null;
  /**
   * where no single step is enough
   */
  pairs: {
    /**
     * at most five, best first
     */
    best: Together[];
    /**
     * pairs there are
     */
    all: number;
    /**
     * of which a forecast was asked for
     */
    tried: number;
    /**
     * of those tried, pairs that exclude one another
     */
    exclude: number;
    /**
     * of those tried, also computed over the drawn days
     */
    drawn: number;
    /**
     * pairs not tried, those of the steps that help least; `words` says why
     */
    left_out: number;
    /**
     * of those tried, may be among the best and were not computed over all drawn days
     */
    not_drawn: number;
    /**
     * no pair left out could be among the best
     */
    complete: boolean;
    /**
     * what was computed and what was not
     */
    words: string;
  } | null;
  /**
   * where no single step is enough: the pair that is enough at the least cost, or the best set found
   */
  together: Together | null;
  no_help: string[];
  not_possible: {
    words: string;
    why: string;
  }[];
}
export interface Outcome {
  /**
   * as stated: first must-run loss minus off
   */
  margin_s: number;
  margin_is_least: boolean;
  /**
   * nine drawn days in ten last that long
   */
  safe_to_s: number;
  /**
   * every other drawn day lasts that long
   */
  likely_s: number;
  /**
   * share of the drawn days that reach off
   */
  probability: number;
  first_loss: {
    device: string;
    at_s: number;
    cause: string;
    pack: string | null;
  } | null;
  one_loss: {
    holds: boolean;
    worst: string | null;
    margin_s: number;
    /**
     * how far the single losses that are not survived end before off, added up
     */
    short_s: number;
  } | null;
}
export interface Money {
  amount: number;
  /**
   * ISO 4217
   */
  currency: string;
  /**
   * true: with the catalogue's rough guesses
   */
  guess: boolean;
  /**
   * the catalogue's guesses besides, in USD, where your currency is another one
   */
  guess_usd: number | null;
}
/**
 * packs, boxes, holders, leads, chargers to get; 0: nothing
 */
export interface Money1 {
  amount: number;
  /**
   * ISO 4217
   */
  currency: string;
  /**
   * true: with the catalogue's rough guesses
   */
  guess: boolean;
  /**
   * the catalogue's guesses besides, in USD, where your currency is another one
   */
  guess_usd: number | null;
}
export interface Gain {
  safe_s: number;
  /**
   * gain of outcome.likely_s
   */
  likely_s: number;
  /**
   * how much less short, where single losses were looked for
   */
  one_loss_s: number | null;
}
/**
 * several steps as one changed day: what they take together and what they give
 */
export interface Together {
  /**
   * words of the steps
   */
  steps: string[];
  money: Money2;
  mass_kg: number;
  /**
   * seconds of hands on the day
   */
  hands_s: number;
  /**
   * somebody else has to agree
   */
  ask: boolean;
  buy: boolean;
  gain: Gain;
  /**
   * reaches the goal
   */
  enough: boolean;
  outcome: Outcome;
}
/**
 * packs, boxes, holders, leads, chargers to get; 0: nothing
 */
export interface Money2 {
  amount: number;
  /**
   * ISO 4217
   */
  currency: string;
  /**
   * true: with the catalogue's rough guesses
   */
  guess: boolean;
  /**
   * the catalogue's guesses besides, in USD, where your currency is another one
   */
  guess_usd: number | null;
}
