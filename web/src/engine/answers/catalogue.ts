// Made from schema/catalogue.schema.json by `npm run answers`: not written by hand.

export type Catalogue =
  | {
      /**
       * @minItems 1
       */
      lists: [
        {
          list: string;
          contents: string;
          count: number;
        },
        ...{
          list: string;
          contents: string;
          count: number;
        }[]
      ];
    }
  | {
      list: string;
      entries: Entry[];
    }
  | {
      entry: Entry;
    };
export type Id = string;

export interface Entry {
  kind:
    'pack' | 'device' | 'box' | 'holder' | 'source' | 'charger' | 'connector' | 'wire' | 'fuse' | 'meter' | 'cell' | 'travel_rule' | 'mark';
  id: Id;
  title: string;
  aliases?: string[];
  note?: string;
  /**
   * As in the data file: the end of a key is its unit; three numbers in a list are low, typical, high.
   */
  values: {};
  /**
   * Worked out, or gathered from other entries.
   */
  computed: {};
  provenance: Provenance;
  /**
   * Keys of `values` or `computed` whose numbers have a source of their own.
   */
  own_provenance: {
    [k: string]: Provenance;
  };
}
export interface Provenance {
  source: string;
  mark: 'measured' | 'standard' | 'derived' | 'secondary' | 'from memory' | 'common practice';
  /**
   * ISO 8601 date
   */
  checked: string;
  /**
   * range of temperature, rate or time
   */
  valid?: string;
}
