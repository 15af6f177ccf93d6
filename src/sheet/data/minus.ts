// The signs of numbers within sentences. A result is read by machines and typed in terminals, so its sentences have a
// hyphen for a minus; beside a page's figures, which have the sign itself, that would be a second one.

/** A hyphen before a number: neither within a range or a name, nor what is typed after an option. */
const MINUS = /(?<=^|[\s(])(?<!--[a-z-]+ )-(?=\d)/g

/** A sentence of the result as pages and sheet.png print it: "by −0.02 stops". */
export function withMinus(sentence: string): string {
  return sentence.replace(MINUS, '−')
}
