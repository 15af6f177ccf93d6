// The one table of candidate kinds, and what tells them apart wherever one is not like another. The page reads it, too, so it
// imports no code that a page can't run.

interface Kind {
  /** Shows the same donors on every target frame, and so freezes what moves round the region. */
  readonly frozen: boolean
  /** There is one of it, with no neighbours that it could be one row with. */
  readonly singular: boolean
}

export const KINDS = {
  hold: { frozen: true, singular: false },
  run: { frozen: false, singular: false },
  mirror: { frozen: false, singular: false },
  relay: { frozen: false, singular: true },
  stack: { frozen: true, singular: true },
  mosaic: { frozen: true, singular: true },
} as const satisfies Readonly<Record<string, Kind>>

export type CandidateKind = keyof typeof KINDS

/** In the table's order. */
export const CANDIDATE_KINDS = Object.keys(KINDS) as readonly CandidateKind[]
