// A show's look: a table from one colour to another, put on everything that people look at.

/** The edges of a table, per channel: what its first and last entries stand for. */
export interface Domain {
  readonly min: readonly [number, number, number]
  readonly max: readonly [number, number, number]
}

export interface Table extends Domain {
  /** Entries of a side, 2 or more. */
  readonly size: number
  /** RGB: `size` entries of a 1D table, size ** 3 of a 3D one, red fastest. */
  readonly values: Float32Array
}

export interface Look {
  /** Absolute. */
  readonly path: string
  /** For people: its title, or its file's name. */
  readonly name: string
  /** A curve per channel, first. */
  readonly curves: Table | null
  /** From colour to colour, after the curves. */
  readonly cube: Table | null
}

/** What a look takes in: the first table's domain. */
export function domainOf({ curves, cube }: Look): Domain {
  return (curves ?? cube)!
}
