// The plain way: the shortest path that is still open, filled, until there is none. J. Edmonds, R. Karp (1972).

export interface FlowCase {
  /** Per node: capacity from the source, and to the sink. */
  readonly terminals: readonly (readonly number[])[]
  /** [a, b, capacity, capacity back]. */
  readonly edges: readonly (readonly number[])[]
}

export function plainMaxFlow({ terminals, edges }: FlowCase): number {
  const [source, sink] = [terminals.length, terminals.length + 1]
  const left = Array.from({ length: terminals.length + 2 }, () => new Array(terminals.length + 2).fill(0))
  for (const [node, [from, to]] of terminals.entries()) {
    left[source][node] += from
    left[node][sink] += to
  }
  for (const [a, b, there, back] of edges) {
    left[a][b] += there
    left[b][a] += back
  }
  for (let flow = 0; ; ) {
    const before = new Map([[source, source]])
    for (const node of before.keys())
      for (const [next, room] of left[node].entries())
        if (room > 0 && !before.has(next)) before.set(next, node)
    if (!before.has(sink)) return flow
    const path: [number, number][] = []
    for (let node = sink; node !== source; node = before.get(node)!) path.push([before.get(node)!, node])
    const most = Math.min(...path.map(([a, b]) => left[a][b]))
    for (const [a, b] of path) {
      left[a][b] -= most
      left[b][a] += most
    }
    flow += most
  }
}

/** What crosses from the source's side to the sink's. */
export function cutOf({ terminals, edges }: FlowCase, onSource: (node: number) => boolean): number {
  let cut = 0
  for (const [node, [from, to]] of terminals.entries()) cut += onSource(node) ? to : from
  for (const [a, b, there, back] of edges) if (onSource(a) !== onSource(b)) cut += onSource(a) ? there : back
  return cut
}
