// Numbers as people read them, by the user's settings. Every value on a screen is written here.
export interface Units {
  twelve_hours: boolean;
  fahrenheit: boolean;
  pounds: boolean;
  currency: string;
}

export const kUnits: Units = { twelve_hours: false, fahrenheit: false, pounds: false, currency: 'USD' };

export function unitsOf(day: { [key: string]: unknown }): Units {
  const settings = (day.settings ?? {}) as Record<string, unknown>;
  return {
    twelve_hours: settings.clock === '12 h',
    fahrenheit: settings.temperature === '°F',
    pounds: settings.weight === 'lb',
    currency: typeof settings.currency === 'string' ? settings.currency : 'USD',
  };
}

export function clock(at_s: number, units: Units = kUnits): string {
  const minutes = Math.floor(at_s / 60 + 1e-9);
  const day = Math.floor(minutes / 1440);
  const within = minutes - day * 1440;
  const [hour, minute] = [Math.floor(within / 60), String(within % 60).padStart(2, '0')];
  const text = units.twelve_hours
    ? `${hour % 12 || 12}:${minute} ${hour < 12 ? 'am' : 'pm'}`
    : `${String(hour).padStart(2, '0')}:${minute}`;
  return day > 0 ? `${text} +${day}` : text;
}

export function hour(at_s: number, units: Units = kUnits): string {
  const of = Math.floor(at_s / 3600) % 24;
  return units.twelve_hours ? `${of % 12 || 12}${of < 12 ? 'a' : 'p'}` : String(of).padStart(2, '0');
}

export function length(seconds: number): string {
  const minutes = Math.floor(Math.abs(seconds) / 60);
  if (minutes < 1) return `${Math.round(Math.abs(seconds))} s`;
  if (minutes < 60) return `${minutes} min`;
  return minutes % 60 === 0 ? `${minutes / 60} h` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

export function temperature(celsius: number, units: Units = kUnits): string {
  const value = Math.round(units.fahrenheit ? celsius * 1.8 + 32 : celsius);
  return `${value < 0 ? '−' : ''}${Math.abs(value)} ${units.fahrenheit ? '°F' : '°C'}`;
}

export function weight(kg: number, units: Units = kUnits): string {
  if (units.pounds) return kg < 0.4536 ? `${(kg * 35.274).toFixed(1)} oz` : `${(kg * 2.20462).toFixed(1)} lb`;
  return kg < 1 ? `${Math.round(kg * 1000)} g` : `${kg.toFixed(1)} kg`;
}

// "all" and "none" only when it is so.
export function share(value: number): string {
  if (value >= 1) return 'all';
  if (value <= 0) return 'none';
  if (value > 0.99 || value < 0.01) return `${(value * 100).toFixed(1)} %`;
  return `${Math.round(value * 100)} %`;
}

export const percent = (value: number): string => `${Math.round(value * 100)} %`;
export const volts = (v: number): string => `${v.toFixed(2)} V`;
export const wattHours = (wh: number): string => `${wh < 10 ? wh.toFixed(1) : Math.round(wh)} Wh`;
export const count = (n: number): string => n.toLocaleString('en-GB');
