// Which fields each thing has, in the order they are asked for. What a day needs first; the rest under "more".
import type { Entry, Find, List } from './entry';
import { homes, starts, stops } from './ends';
import { tables, text, type DayJson, type Table } from './day';
import type { Things } from './edit';
import { en } from '../text/en';

export interface Option {
  value: string;
  title: string;
}
export interface Pairs {
  keys: string[];
  values?: (key: string) => string[]; // free text where left out
}
export interface Of {
  day: DayJson;
  thing: Table;
  of: (list: List) => Entry[];
  find: Find;
}
export interface FormField {
  key: string;
  label?: string;
  example?: string;
  as?: 'text' | 'list' | 'boolean' | 'number' | 'name' | 'labels' | 'several' | 'pairs' | 'plugs' | 'order' | 'bays' | 'reach' | 'live' | 'params';
  options?: (of: Of) => Option[];
  pairs?: (of: Of) => Pairs;
  when?: (of: Of) => boolean;
  more?: boolean;
}

const t = en.edit;
const same = (...values: string[]) => (): Option[] => values.map((value) => ({ value, title: value }));
const kinds = (list: List) => (of: Of): Option[] => of.of(list).map((entry) => ({ value: entry.id, title: entry.title }));
const named = (list: string) => (of: Of): Option[] => tables(of.day, list).map((table) => ({ value: text(table, 'name'), title: text(table, 'name') }));
const yes_no = (): Option[] => [{ value: 'true', title: t.yes }, { value: 'false', title: t.no }];

export const builtInPlaces = ['bag', 'pocket', 'cart', 'open', 'camera', 'cast', 'van', 'indoors'];
const places = (of: Of): Option[] =>
  [...new Set([...builtInPlaces, ...tables(of.day, 'place').map((place) => text(place, 'name'))])].map((value) => ({ value, title: value }));
const gauges = (of: Of): Option[] =>
  of.of('wires').map((entry) => entry.title.split(', ').at(-1)!).map((value) => ({ value, title: value }));
const ends = (all: { at: string; plug: string; taken: boolean }[]): Option[] =>
  all.map(({ at, plug, taken }) => ({ value: at, title: [at, plug, taken ? t.taken : ''].filter((part) => part !== '').join(' · ') }));

const groups = (day: DayJson) => [...new Set(tables(day, 'device').map((device) => text(device, 'group')).filter((group) => group !== ''))];
const switchable = (of: Of): Option[] =>
  [...new Set([...groups(of.day), ...tables(of.day, 'device').map((device) => text(device, 'name'))])].map((value) => ({ value, title: value }));
const modesOf = (of: Of, device: Table): string[] => [
  ...(of.find('devices', text(device, 'kind'))?.values.mode ?? []).map((mode) => mode.name ?? ''),
  ...(typeof device.modes === 'object' && device.modes !== null && !Array.isArray(device.modes) ? Object.keys(device.modes) : []),
].filter((name, i, all) => name !== '' && all.indexOf(name) === i);
const devicesIn = (day: DayJson, name: string) => tables(day, 'device').filter((device) => text(device, 'name') === name || text(device, 'group') === name);
const isOf = (list: List, families: RegExp) => (of: Of) => families.test(of.find(list, text(of.thing, 'kind'))?.values.family ?? '');

export const forms: Record<Things, FormField[]> = {
  period: [
    { key: 'name', as: 'name' },
    { key: 'from' },
    { key: 'air' },
    { key: 'off', label: 'offs', as: 'several', options: switchable },
    { key: 'on', label: 'ons', as: 'several', options: switchable },
    { key: 'live', as: 'several', options: (of) => [...named('source')(of), ...named('charger')(of)], when: (of) => tables(of.day, 'source').length + tables(of.day, 'charger').length > 0 },
    { key: 'no_hands', as: 'reach' },
    { key: 'until', more: true },
    { key: 'modes', as: 'pairs', more: true, pairs: (of) => ({
        keys: [...groups(of.day), ...tables(of.day, 'device').filter((device) => modesOf(of, device).length > 1).map((device) => text(device, 'name'))],
        values: (key) => [...new Set(devicesIn(of.day, key).flatMap((device) => modesOf(of, device)))],
      }) },
  ],
  pack: [
    { key: 'label', as: 'labels' },
    { key: 'kind', options: kinds('packs') },
    { key: 'health' },
    { key: 'charge' },
    { key: 'spare', options: places },
    { key: 'resistance', more: true },
    { key: 'capacity', more: true },
    { key: 'weakest_cell', more: true },
    { key: 'params', as: 'params', more: true },
    { key: 'gauge_learned', more: true, when: (of) => text(of.thing, 'kind').startsWith('smart') || 'gauge_learned' in of.thing },
    { key: 'pd', more: true, when: (of) => text(of.thing, 'kind').includes('pd') || 'pd' in of.thing },
    { key: 'price', as: 'number', more: true },
    { key: 'travels', options: same('spare', 'in device', 'stays'), more: true },
    { key: 'bought', more: true },
    { key: 'note', more: true },
  ],
  holder: [
    { key: 'packs', as: 'order' },
    { key: 'name', as: 'name' },
    { key: 'in', label: 'built_in', options: (of) => ends(homes(of.day, text(of.thing, 'kind'), of.find)) },
    { key: 'place', options: places },
    { key: 'kind', options: kinds('holders'), more: true },
    { key: 'contacts', options: same('new', 'worn'), more: true },
    { key: 'change', more: true },
    { key: 'one_way', as: 'boolean', options: yes_no, more: true },
    { key: 'drop', more: true },
  ],
  box: [
    { key: 'name', as: 'name' },
    { key: 'kind', options: kinds('boxes') },
    { key: 'draw' },
    { key: 'place', options: places },
    { key: 'main_fuse' },
    { key: 'fuses', as: 'pairs', pairs: (of) => ({ keys: (of.find('boxes', text(of.thing, 'kind'))?.values.output ?? []).map((output) => output.name) }) },
  ],
  source: [
    { key: 'name', as: 'name' },
    { key: 'kind', options: kinds('sources') },
    { key: 'in', label: 'stands_in', options: named('holder') },
    { key: 'live', as: 'live' },
    { key: 'place', options: places },
    { key: 'volts', more: true },
    { key: 'amps', more: true },
    { key: 'pd', more: true, when: (of) => text(of.thing, 'kind').includes('pd') },
  ],
  charger: [
    { key: 'name', as: 'name' },
    { key: 'kind', options: kinds('chargers') },
    { key: 'bays', as: 'bays' },
    { key: 'live', as: 'live' },
    { key: 'source', options: named('source') },
    { key: 'place', options: places },
    { key: 'amps', label: 'amps_bay', more: true },
    { key: 'together', more: true },
    { key: 'feeds', options: same('at once', 'in turn'), more: true },
  ],
  device: [
    { key: 'name', as: 'name' },
    { key: 'draw' },
    { key: 'need', options: () => Object.entries(t.needs).map(([value, title]) => ({ value, title })) },
    { key: 'place', options: places },
    { key: 'group' },
    { key: 'usually', options: same('on', 'off') },
    { key: 'phantom', as: 'list', when: isOf('devices', /recorder|mixer|transmitter/) },
    { key: 'kind', options: kinds('devices'), more: true },
    { key: 'modes', label: 'draws', as: 'pairs', more: true, pairs: (of) => ({ keys: modesOf(of, of.thing) }) },
    { key: 'meter', options: kinds('meters'), more: true },
    { key: 'cutoff', more: true },
    { key: 'restart_volts', more: true },
    { key: 'most_volts', more: true },
    { key: 'restart', more: true },
    { key: 'restarts_itself', as: 'boolean', options: yes_no, more: true },
    { key: 'hold_up', more: true },
  ],
  wire: [
    { key: 'from', label: 'starts_at', options: (of) => ends(starts(of.day, of.find)) },
    { key: 'to', options: (of) => ends(stops(of.day, of.find)) },
    { key: 'length' },
    { key: 'wire', options: gauges },
    { key: 'fuse' },
    { key: 'plugs', as: 'plugs' },
    { key: 'contacts', options: same('new', 'worn') },
    { key: 'fuse_kind', options: kinds('fuses'), more: true },
    { key: 'return', options: same('own conductor', 'audio shield'), more: true },
    { key: 'centre', options: same('positive', 'negative'), more: true },
    { key: 'place', options: places, more: true },
  ],
  place: [
    { key: 'name', as: 'name' },
    { key: 'like', options: () => Object.entries(t.likes).map(([value, title]) => ({ value, title })) },
    { key: 'temperature' },
    { key: 'share' },
    { key: 'loses' },
    { key: 'heat_capacity' },
  ],
  measured: [
    { key: 'at', label: 'read_at', options: (of) => ['box', 'holder', 'device'].flatMap((list) => named(list)(of)) },
    { key: 'draw', label: 'read_draw' },
    { key: 'during', options: named('period') },
    { key: 'gauge' },
  ],
};

export const shows = (list: Things, key: string): boolean =>
  forms[list].some((field) => field.key === key || (field.as === 'labels' && key === 'labels') || key.startsWith(`${field.key}_`));
