// What has been decided so far, and who wants to know when it changes.
import type { Choice, Decision, Decisions } from '../data/decisions.js'
import type { PageData } from '../data/page-data.js'

export class Decided {
  private readonly known = new Map<string, Decision>()
  private readonly listeners: (() => void)[] = []
  /** whether anything changed since it was last saved */
  unsaved = false
  initials = ''

  constructor(private readonly data: PageData) {
    this.keep(data.decisions)
  }

  get(candidate: string): Decision | undefined {
    return this.known.get(candidate)
  }

  count(choice: Choice): number {
    return [...this.known.values()].filter((each) => each.decision === choice).length
  }

  /** Decides; the same choice again takes it back. */
  choose(candidate: string, decision: Choice, note: string): void {
    if (this.known.get(candidate)?.decision === decision) this.known.delete(candidate)
    else this.known.set(candidate, { candidate, decision, note, initials: this.initials, at: now() })
    this.changed()
  }

  /** A note on what is decided already; without a decision it waits in its field. */
  note(candidate: string, note: string): void {
    const known = this.known.get(candidate)
    if (!known || known.note === note) return
    this.known.set(candidate, { ...known, note, at: now() })
    this.changed()
  }

  /** Whoever gives initials afterwards has made the decisions that have none. */
  sign(initials: string): void {
    this.initials = initials
    const unsigned = [...this.known.values()].filter((known) => known.initials === '')
    if (initials === '' || unsigned.length === 0) return
    for (const known of unsigned) this.known.set(known.candidate, { ...known, initials })
    this.changed()
  }

  onChange(listener: () => void): void {
    this.listeners.push(listener)
  }

  /** Takes over what a file says; candidates that this page does not have are counted, not kept. */
  restore(decisions: Decisions): { restored: number; unknown: number } {
    this.keep(decisions.decisions)
    this.changed()
    this.unsaved = false
    return { restored: this.known.size, unknown: decisions.decisions.length - this.known.size }
  }

  private keep(decisions: readonly Decision[]): void {
    const here = new Set(this.data.ways.map((way) => way.id))
    this.known.clear()
    for (const each of decisions) if (here.has(each.candidate)) this.known.set(each.candidate, each)
    this.initials ||= decisions.find((each) => each.initials !== '')?.initials ?? ''
  }

  file(): Decisions {
    const { search, plate, first, last, ways } = this.data
    const decisions = ways.flatMap((way) => this.known.get(way.id) ?? [])
    return { schema: 'offcut.decisions/1', search, plate, first, last, decisions }
  }

  private changed(): void {
    this.unsaved = true
    for (const listener of this.listeners) listener()
  }
}

function now(): string {
  return new Date().toISOString()
}
