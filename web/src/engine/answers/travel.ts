// Made from schema/travel.schema.json by `npm run answers`: not written by hand.

export type Date = string;

export interface Travel {
  format: 'tillwrap-travel-1';
  title: string;
  on: Date;
  travellers: number;
  /**
   * all of it in baggage and within the limits, by the strict reading, among these travellers
   */
  may_fly: boolean;
  /**
   * for what may go in baggage, by the strict reading
   */
  travellers_needed: number;
  readings_differ: boolean;
  items: {
    labels: string[];
    kind: string;
    class: 'lithium-ion' | 'lithium-metal' | 'nickel' | 'alkaline' | 'lead-non-spillable';
    /**
     * of one pack, label
     */
    wh: number;
    /**
     * of one cell; 0 where none is lithium metal
     */
    lithium_g: number;
    /**
     * batteries counted one by one in each pack
     */
    pieces_each: number;
    travels: 'in_device' | 'spare';
    goes: 'cabin' | 'cabin_or_hold' | 'cargo';
    approval: boolean;
    power_bank: 'no' | 'unclear' | 'yes';
    protect: string;
    rule: string;
  }[];
  stays: string[];
  strict: Reading;
  narrow: Reading;
  approvals: {
    item: number;
    sentence: string;
  }[];
  alternatives: {
    what: 'smaller_pack' | 'plain_pack' | 'dry_cells' | 'more_travellers' | 'by_ground' | 'rent_there';
    item: number | null;
    kind: string | null;
    count: number | null;
    sentence: string;
  }[];
  rules: {
    id: string;
    title: string;
    text: string;
    valid_from: Date;
    valid_until: Date;
    source: string;
    mark: 'measured' | 'standard' | 'derived' | 'secondary' | 'from memory' | 'common practice';
    checked: Date;
  }[];
}
export interface Reading {
  fits: boolean;
  travellers_needed: number;
  counts: {
    rule: string;
    title: string;
    count: number;
    most_a_person: number;
  }[];
  /**
   * one list a traveller
   */
  share: {
    item: number;
    pieces: number;
  }[][];
}
