// The names of the transfer functions that code values may be stored in, and the rule that `auto` follows.
import { misuse } from '../errors.js'

/** Every encoding by the name that `encoding` takes, in the order help texts and error messages list them. */
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

/** What `auto` may know of a plate. */
export interface EncodingEvidence {
  /** File name ending, lower case, without the dot. */
  readonly format: string
  /** What the file itself says, where it says anything. */
  readonly hint?: EncodingChoice
}

/**
 * The encoding of a plate and why: what was asked for; or for `auto` what the file says, else linear for EXR and sRGB
 * for everything else.
 *
 * @throws MISUSE where the name asked for is unknown; the message lists the known ones
 */
export function chooseEncoding(asked: string, { format, hint }: EncodingEvidence): EncodingChoice {
  if (asked !== 'auto') {
    if (!isEncoding(asked))
      throw misuse('`encoding`', `auto or one of ${ENCODINGS.join(', ')}`, asked, { among: ENCODINGS })
    return { encoding: asked, why: 'as asked for' }
  }
  if (hint !== undefined) return hint
  if (format === 'exr') return { encoding: 'linear', why: 'EXR holds linear light' }
  return {
    encoding: 'srgb',
    why: `nothing in the ${format.toUpperCase()} says otherwise, so sRGB is assumed`,
  }
}
