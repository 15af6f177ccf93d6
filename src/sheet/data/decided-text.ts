// A decision in words, for the page and for print.
import type { Decision } from './decisions.js'

const PAST = { accept: 'Accepted', later: 'Kept for later', reject: 'Rejected' } as const

/** "Accepted by KL on 2024-05-02: keep an eye on the left edge". */
export function decidedText({ decision, initials, at, note }: Decision): string {
  const by = initials ? ` by ${initials}` : ''
  const why = note ? `: ${note}` : ''
  return `${PAST[decision]}${by} on ${at.slice(0, 10)}${why}`
}

/** What stands for a candidate, with its name: "run+48: Accepted by KL on 2024-05-02", "run+48: open". */
export function stands(name: string, decision: Decision | undefined): string {
  return `${name}: ${decision ? decidedText(decision) : 'open'}`
}
