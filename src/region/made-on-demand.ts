// Values by frame that are made when they are asked for, and of which those that were used lately are kept: of a long pan
// the weights of all frames are gigabytes, what they are made of is not.

/**
 * A value per frame; frames with the same source share the value, and as long as somebody has one it is that same object.
 */
export class MadeOnDemand<S extends object, V extends object> implements ReadonlyMap<number, V> {
  /** The one that was used longest ago comes first. */
  readonly #kept = new Map<S, V>()
  readonly #living = new Map<S, WeakRef<V>>()

  /**
   * @param sources what each frame's value is made of
   * @param make    makes it, the same whenever it is asked
   * @param keep    so many values are kept, at least one
   */
  constructor(
    readonly sources: ReadonlyMap<number, S>,
    readonly make: (source: S) => V,
    readonly keep: number,
  ) {}

  get size(): number {
    return this.sources.size
  }

  get [Symbol.toStringTag](): string {
    return 'MadeOnDemand'
  }

  has(frame: number): boolean {
    return this.sources.has(frame)
  }

  get(frame: number): V | undefined {
    const source = this.sources.get(frame)
    return source === undefined ? undefined : this.#of(source)
  }

  keys(): MapIterator<number> {
    return this.sources.keys()
  }

  *values(): MapIterator<V> {
    for (const source of this.sources.values()) yield this.#of(source)
  }

  *entries(): MapIterator<[number, V]> {
    for (const [frame, source] of this.sources) yield [frame, this.#of(source)]
  }

  [Symbol.iterator](): MapIterator<[number, V]> {
    return this.entries()
  }

  forEach(use: (value: V, frame: number, map: ReadonlyMap<number, V>) => void): void {
    for (const [frame, value] of this) use(value, frame, this)
  }

  #of(source: S): V {
    const value = this.#kept.get(source) ?? this.#living.get(source)?.deref() ?? this.make(source)
    this.#living.set(source, new WeakRef(value))
    this.#kept.delete(source)
    this.#kept.set(source, value)
    if (this.#kept.size > Math.max(1, this.keep)) this.#kept.delete(this.#kept.keys().next().value!)
    return value
  }
}
