// What was done, to be taken back and done again: values before and after, of whatever was changed.

interface Step<T> {
  readonly before: Partial<T>
  readonly after: Partial<T>
  /** Steps in a row with the same one are one: a slider that is pulled, a shape that is pushed by keys. */
  readonly run: string | null
  readonly at: number
}

/** A pause ends a run of steps, ms. */
const RUN_MS = 1000
/** As many as anybody takes back. */
const MAX_STEPS = 500

export class History<T extends object> {
  private done: Step<T>[] = []
  private undone: Step<T>[] = []

  /** @param at time of the change, ms; counts only between steps of one run */
  record(before: Partial<T>, after: Partial<T>, run: string | null, at: number): void {
    this.undone = []
    const last = this.done[this.done.length - 1]
    if (run !== null && last?.run === run && at - last.at <= RUN_MS) {
      this.done[this.done.length - 1] = {
        before: { ...before, ...last.before },
        after: { ...last.after, ...after },
        run,
        at,
      }
      return
    }
    this.done.push({ before, after, run, at })
    if (this.done.length > MAX_STEPS) this.done.shift()
  }

  /** The values to go back to; null where nothing was done. */
  undo(): Partial<T> | null {
    const step = this.done.pop()
    if (!step) return null
    this.undone.push(step)
    return step.before
  }

  /** The values to go forward to; null where nothing was taken back. */
  redo(): Partial<T> | null {
    const step = this.undone.pop()
    if (!step) return null
    this.done.push(step)
    return step.after
  }

  get canUndo(): boolean {
    return this.done.length > 0
  }

  get canRedo(): boolean {
    return this.undone.length > 0
  }

  clear(): void {
    this.done = []
    this.undone = []
  }
}
