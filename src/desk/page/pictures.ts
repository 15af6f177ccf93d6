// Pictures of frames: what was asked for last comes first, whole pictures only, the ones used longest ago given up.
import { AHEAD_HEADER, RECT_HEADER } from '../messages.js'
import { refusal } from './api.js'

export interface Arrived {
  readonly bitmap: ImageBitmap
  /** Plate pixels that it shows; null: not said. */
  readonly rect: readonly [number, number, number, number] | null
}

/** A browser has six connections to a server, and one of them brings the news. */
const AT_ONCE = 4
/** Decoded pictures that are kept, bytes. */
const KEPT_BYTES = 768 * 2 ** 20

export class Pictures {
  /** In the order of their last use. */
  private readonly kept = new Map<string, Arrived>()
  private readonly faults = new Map<string, string>()
  private readonly coming = new Map<string, AbortController>()
  private readonly wanted = new Map<string, readonly string[]>()
  private bytes = 0

  /** @param arrived called whenever a picture came in, or can't */
  constructor(private readonly arrived: () => void) {}

  /** The picture, null while it is not there. */
  get(address: string): Arrived | null {
    const known = this.kept.get(address)
    if (!known) return null
    this.kept.delete(address)
    this.kept.set(address, known)
    return known
  }

  has(address: string): boolean {
    return this.kept.has(address)
  }

  /** Why a picture can't be had; null where nothing is known against it. */
  fault(address: string): string | null {
    return this.faults.get(address) ?? null
  }

  /** Asks again for what could not be had. */
  forgetFaults(): void {
    this.faults.clear()
    this.start()
  }

  /**
   * Says what a part of the page wants now, the most wanted first; what it wanted before and has not come is no longer
   * asked for.
   */
  want(part: string, addresses: readonly string[]): void {
    // Put in anew, so that whoever asked last is served first.
    this.wanted.delete(part)
    this.wanted.set(part, addresses)
    this.start()
  }

  /** Whether anything that is wanted has not come yet. */
  get waiting(): boolean {
    return this.coming.size > 0
  }

  private start(): void {
    const order = this.inOrder()
    const first = order.find((address) => !this.coming.has(address))
    if (first !== undefined && this.coming.size >= AT_ONCE) {
      // What is wanted least gives way, which is what nobody wants any more where there is such a picture.
      const rank = (address: string) => (order.includes(address) ? order.indexOf(address) : order.length)
      const last = [...this.coming.keys()].reduce((least, address) =>
        rank(address) > rank(least) ? address : least,
      )
      if (rank(last) > rank(first)) this.drop(last)
    }
    for (const address of order) {
      if (this.coming.size >= AT_ONCE) return
      if (!this.coming.has(address)) this.fetch(address, this.isFirst(address))
    }
  }

  private drop(address: string): void {
    this.coming.get(address)?.abort()
    this.coming.delete(address)
  }

  /** What is wanted and neither there nor hopeless: of each part its first, then the rest. */
  private inOrder(): string[] {
    const parts = [...this.wanted.values()].reverse()
    const firsts = parts.flatMap((addresses) => addresses.slice(0, 1))
    const rest = parts.flatMap((addresses) => addresses.slice(1))
    return [...firsts, ...rest].filter((address) => !this.kept.has(address) && !this.faults.has(address))
  }

  /** Whether it is looked at, and not only fetched in case that it will be. */
  private isFirst(address: string): boolean {
    return [...this.wanted.values()].some(([first]) => first === address)
  }

  private async fetch(address: string, looked: boolean): Promise<void> {
    const control = new AbortController()
    this.coming.set(address, control)
    try {
      const headers = new Headers(looked ? [] : [[AHEAD_HEADER, '1']])
      const response = await fetch(address, { signal: control.signal, headers })
      if (!response.ok) throw await refusal(response)
      const rect = rectOf(response.headers.get(RECT_HEADER))
      this.keep(address, { bitmap: await createImageBitmap(await response.blob()), rect })
    } catch (error) {
      if (control.signal.aborted) return
      this.faults.set(address, (error as Error).message)
    }
    this.coming.delete(address)
    this.arrived()
    this.start()
  }

  private keep(address: string, picture: Arrived): void {
    this.kept.set(address, picture)
    this.bytes += size(picture)
    for (const [old, { bitmap }] of this.kept) {
      if (this.bytes <= KEPT_BYTES || old === address) break
      this.bytes -= size({ bitmap, rect: null })
      this.kept.delete(old)
      bitmap.close()
    }
  }
}

function size({ bitmap }: Arrived): number {
  return 4 * bitmap.width * bitmap.height
}

function rectOf(text: string | null): Arrived['rect'] {
  const numbers = text?.split(',').map(Number) ?? []
  return numbers.length === 4 && numbers.every(Number.isFinite)
    ? (numbers as unknown as NonNullable<Arrived['rect']>)
    : null
}
