// What was used lately, as far as there is room for it.

/** Values by name; when they take too much room, what was used longest ago goes first. */
export class RecentlyUsed<T> {
  /** In the order of their use. */
  readonly #kept = new Map<string, { readonly value: T; readonly bytes: number }>()
  #bytes = 0

  /** @param maxBytes of all values together; one that is larger by itself is kept alone */
  constructor(readonly maxBytes: number) {}

  get(name: string): T | undefined {
    const found = this.#kept.get(name)
    if (found === undefined) return undefined
    this.#kept.delete(name)
    this.#kept.set(name, found)
    return found.value
  }

  /** Keeps a value, in the place of another one of that name. */
  set(name: string, value: T, bytes: number): void {
    this.delete(name)
    this.#kept.set(name, { value, bytes })
    this.#bytes += bytes
    for (const oldest of this.#kept.keys()) {
      if (this.#bytes <= this.maxBytes || oldest === name) return
      this.delete(oldest)
    }
  }

  /** Whether a value of that size would drive out no other. */
  hasRoom(bytes: number): boolean {
    return this.#bytes + bytes <= this.maxBytes
  }

  delete(name: string): void {
    this.#bytes -= this.#kept.get(name)?.bytes ?? 0
    this.#kept.delete(name)
  }
}
