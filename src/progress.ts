// How long work reports on itself; the command line draws it, a library caller may ignore it.

/** One report: `done` of `total` units (frames unless the phase's last word is another one) of `phase`. */
export interface Progress {
  readonly phase: string
  readonly done: number
  readonly total: number
}

export type OnProgress = (progress: Progress) => void
