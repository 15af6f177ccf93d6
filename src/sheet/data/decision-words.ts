// What a decision is called, and how much may be written beside it: for pages that hold no decision yet.

export const DECISION_WORDS = { accept: 'accept', later: 'keep for later', reject: 'reject' } as const
/** Long enough for a paragraph, short enough that a broken file can't swell the page. */
export const NOTE_LENGTH = 4000
export const INITIALS_LENGTH = 12
