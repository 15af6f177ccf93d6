// The names of the transfer functions that code values may be stored in, and the rule that `auto` follows.

/** Every encoding by the name that `--encoding` takes, in the order help texts and error messages list them. */
export const ENCODINGS = [
  'linear',
  'srgb',
  'rec709',
  'cineon',
  'acescct',
  'logc3',
  'logc4',
  'slog3',
  'clog2',
  'clog3',
  'vlog',
  'flog2',
  'nlog',
  'log3g10',
  'film5',
] as const

/** How the stored code values (0 to 1 across the integer range) stand for light. */
export type Encoding = (typeof ENCODINGS)[number]

/** An encoding together with the sentence that says why it was assumed, for `survey` and the sheet. */
export interface EncodingChoice {
  readonly encoding: Encoding
  readonly why: string
}

export function isEncoding(name: string): name is Encoding {
  return (ENCODINGS as readonly string[]).includes(name)
}
