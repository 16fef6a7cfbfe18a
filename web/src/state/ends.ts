// What a lead can start from and end at, with what is taken already. Pure.
import type { Find } from './entry';
import { tables, text, type DayJson, type Table } from './day';

export interface End {
  at: string; // "box.out-1", "recorder.dc"
  of: string; // the thing's name
  plug: string;
  taken: boolean;
  most_v: number | null;
  regulated: boolean;
  always_on: boolean;
}

const end = (of: string, socket: string, plug: string, more: Partial<End> = {}): End => ({
  at: socket === '' ? of : `${of}.${socket}`, of, plug, taken: false, most_v: null, regulated: false, always_on: false, ...more,
});

// Box outputs, holders with a lead of their own and their taps, sources.
export function starts(day: DayJson, find: Find): End[] {
  const used = new Set(tables(day, 'wire').map((wire) => text(wire, 'from')));
  const list: End[] = [];
  for (const box of tables(day, 'box'))
    for (const output of find('boxes', text(box, 'kind'))?.values.output ?? [])
      list.push(end(text(box, 'name'), output.name, output.plug, { regulated: output.regulator !== undefined, always_on: output.always_on === true }));
  for (const holder of tables(day, 'holder')) {
    const values = find('holders', text(holder, 'kind'))?.values;
    if (!holder.in) list.push(end(text(holder, 'name'), '', values?.plug ?? ''));
    if (values?.taps?.length) list.push(end(text(holder, 'name'), 'tap', values.taps[0]!));
  }
  for (const source of tables(day, 'source'))
    if (!source.in) list.push(end(text(source, 'name'), '', find('sources', text(source, 'kind'))?.values.plug ?? ''));
  return list.map((one) => ({ ...one, taken: used.has(one.at) }));
}

// Device sockets that take a plug, and box inputs. A lead to a device's name alone takes its first free socket.
export function stops(day: DayJson, find: Find): End[] {
  const list: End[] = [];
  for (const device of tables(day, 'device')) {
    const name = text(device, 'name');
    const sockets = (find('devices', text(device, 'kind'))?.values.input ?? [])
      .filter((input) => !input.plug.endsWith('contacts'))
      .map((input) => end(name, input.name, input.plug, { most_v: input.most_v ?? null }));
    for (const wire of tables(day, 'wire')) {
      const one = sockets.find((socket) => socket.at === text(wire, 'to')) ?? (text(wire, 'to') === name ? sockets.find((socket) => !socket.taken) : undefined);
      if (one) one.taken = true;
    }
    list.push(...sockets);
  }
  for (const box of tables(day, 'box')) {
    const name = text(box, 'name');
    const inputs = find('boxes', text(box, 'kind'))?.values.inputs ?? [];
    const fed = [...tables(day, 'holder').map((holder) => text(holder, 'in')), ...tables(day, 'wire').map((wire) => text(wire, 'to'))];
    const named = inputs.map((_, k) => fed.includes(`${name}.in-${k + 1}`));
    let whole = fed.filter((place) => place === name).length;
    inputs.forEach((plug, k) => {
      const taken = named[k]! || whole-- > 0;
      list.push(end(name, `in-${k + 1}`, plug, { taken }));
    });
  }
  return list;
}

// The contacts a holder's kind meets inside a device.
const contactsOf = (kind: string): string =>
  kind.endsWith('aa') ? 'aa-contacts' : kind.startsWith('plate-slide-on') ? 'slide-on-contacts' : 'flat-bay-contacts';

// Where a holder of this kind can be built in.
export function homes(day: DayJson, kind: string, find: Find): End[] {
  const list: End[] = stops(day, find).filter((stop) => stop.plug === kind);
  for (const device of tables(day, 'device')) {
    const values = find('devices', text(device, 'kind'))?.values;
    if (!values?.holders?.includes(kind)) continue;
    const name = text(device, 'name');
    const within = tables(day, 'holder').map((holder) => text(holder, 'in'));
    const inputs = (values.input ?? []).filter((input) => input.plug === contactsOf(kind));
    for (const input of inputs)
      list.push(end(name, input.name, kind, { taken: within.includes(`${name}.${input.name}`) || (inputs.length === 1 && within.includes(name)) }));
  }
  return list;
}

export const plugAt = (ends: End[], at: string): string => ends.find((one) => one.at === at || one.of === at)?.plug ?? '';

// The output that suits a socket best: the same plug, a regulated one only where full packs are too much, switched ones first.
export function bestStart(free: End[], socket: { plug: string; most_v: number | null }): End | undefined {
  const worth = (output: End) =>
    (output.plug === socket.plug ? 0 : 2) + (output.regulated === (socket.most_v ?? 99) < 16.8 ? 0 : 8) + (output.always_on ? 4 : 0);
  return [...free].sort((a, b) => worth(a) - worth(b))[0];
}

export function fits(table: Table, find: Find): string[] {
  return find('holders', text(table, 'kind'))?.values.fits ?? [];
}
