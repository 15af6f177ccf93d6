// The largest flow from a source to a sink through a graph, and the smallest cut that it leaves: Y. Boykov, V. Kolmogorov,
// An Experimental Comparison of Min-Cut/Max-Flow Algorithms for Energy Minimization in Vision (PAMI 2004). Two trees grow
// from source and sink until they touch, the path is filled, what it cut off looks for another parent. With their marks of
// time and distance (section 3.2.2 names them), so that an orphan's way to its root is walked once per stage.

const FREE = 0
const SOURCE = 1
const SINK = 2

/** In place of the arc to a node's parent. */
const NONE = -1
const ROOT = -2
const ORPHAN = -3

/**
 * A graph that can be used again: `clear`, add, `solve`, ask. Nodes are 0 to one below `nodes`, beside them the source and
 * the sink. Capacities are at least 0; whole numbers are summed exactly up to 2^53, others as floats are.
 */
export class FlowGraph {
  readonly #firstArc: Int32Array
  readonly #nextArc: Int32Array
  /** The node an arc leads to; arc ^ 1 leads back. */
  readonly #head: Int32Array
  readonly #residual: Float64Array
  /** What is left from the source to a node, or, below 0, from it to the sink. */
  readonly #terminal: Float64Array
  readonly #tree: Uint8Array
  /** The arc from a node to its parent, or NONE, ROOT, ORPHAN. */
  readonly #parent: Int32Array
  readonly #distance: Int32Array
  /** When the distance was last known to be right. */
  readonly #seenAt: Int32Array
  /** Nodes that may still grow: a ring, each node in it once. */
  readonly #active: Int32Array
  readonly #isActive: Uint8Array
  #activeFrom = 0
  #activeCount = 0
  readonly #orphans: number[] = []
  #nodes = 0
  #arcs = 0
  #time = 0
  #flow = 0

  /** @param maxNodes and @param maxEdges that it has room for; an edge is both of its directions */
  constructor(maxNodes: number, maxEdges: number) {
    this.#firstArc = new Int32Array(maxNodes)
    this.#nextArc = new Int32Array(2 * maxEdges)
    this.#head = new Int32Array(2 * maxEdges)
    this.#residual = new Float64Array(2 * maxEdges)
    this.#terminal = new Float64Array(maxNodes)
    this.#tree = new Uint8Array(maxNodes)
    this.#parent = new Int32Array(maxNodes)
    this.#distance = new Int32Array(maxNodes)
    this.#seenAt = new Int32Array(maxNodes)
    this.#active = new Int32Array(maxNodes)
    this.#isActive = new Uint8Array(maxNodes)
  }

  /** Forgets everything. @param nodes that it now has, without arcs */
  clear(nodes: number): void {
    this.#nodes = nodes
    this.#arcs = 0
    this.#flow = 0
    this.#firstArc.fill(NONE, 0, nodes)
    this.#terminal.fill(0, 0, nodes)
  }

  /** Adds capacity from the source to a node, and from it to the sink. */
  addTerminals(node: number, fromSource: number, toSink: number): void {
    // What can run straight through does; then one number holds what is left, on whichever side.
    const kept = this.#terminal[node]
    const before = Math.max(kept, 0) + fromSource
    const after = Math.max(-kept, 0) + toSink
    this.#flow += Math.min(before, after)
    this.#terminal[node] = before - after
  }

  /** Adds an edge between two nodes with its capacity in each direction. */
  addEdge(a: number, b: number, capacity: number, back: number): void {
    const arc = this.#arcs
    this.#arcs += 2
    this.#head[arc] = b
    this.#head[arc + 1] = a
    this.#residual[arc] = capacity
    this.#residual[arc + 1] = back
    this.#nextArc[arc] = this.#firstArc[a]
    this.#firstArc[a] = arc
    this.#nextArc[arc + 1] = this.#firstArc[b]
    this.#firstArc[b] = arc + 1
  }

  /** The largest flow. Once per `clear`. */
  solve(): number {
    this.#plant()
    for (;;) {
      const bridge = this.#grow()
      if (bridge === NONE) return this.#flow
      this.#time++
      this.#augment(bridge)
      this.#adopt()
    }
  }

  /** After `solve`: whether a node lies on the source's side of a smallest cut. */
  isSourceSide(node: number): boolean {
    return this.#tree[node] === SOURCE
  }

  #plant(): void {
    this.#time = 1
    this.#activeFrom = 0
    this.#activeCount = 0
    for (let node = 0; node < this.#nodes; node++) {
      const left = this.#terminal[node]
      this.#isActive[node] = 0
      this.#seenAt[node] = 0
      this.#tree[node] = left > 0 ? SOURCE : left < 0 ? SINK : FREE
      this.#parent[node] = left === 0 ? NONE : ROOT
      this.#distance[node] = 1
      if (left !== 0) this.#activate(node)
    }
  }

  #activate(node: number): void {
    if (this.#isActive[node] === 1) return
    this.#isActive[node] = 1
    this.#active[(this.#activeFrom + this.#activeCount++) % this.#active.length] = node
  }

  /** What can still flow along an arc in the direction in which a tree carries it: away from the source, to the sink. */
  #open(tree: number, arc: number): boolean {
    return this.#residual[tree === SOURCE ? arc : arc ^ 1] > 0
  }

  /** Grows both trees until they touch. @returns the arc from the source's tree to the sink's; NONE: they never do */
  #grow(): number {
    while (this.#activeCount > 0) {
      const node = this.#active[this.#activeFrom]
      const tree = this.#tree[node]
      if (tree !== FREE) {
        for (let arc = this.#firstArc[node]; arc !== NONE; arc = this.#nextArc[arc]) {
          if (!this.#open(tree, arc)) continue
          const other = this.#head[arc]
          if (this.#tree[other] === FREE) {
            this.#tree[other] = tree
            this.#hang(other, arc ^ 1, node)
            this.#activate(other)
          } else if (this.#tree[other] !== tree) {
            // The node stays active: it may touch the other tree in more than one place.
            return tree === SOURCE ? arc : arc ^ 1
          } else if (
            this.#seenAt[other] <= this.#seenAt[node] &&
            this.#distance[other] > this.#distance[node] + 1
          ) {
            // A shorter way to the root keeps the paths short.
            this.#hang(other, arc ^ 1, node)
          }
        }
      }
      this.#activeFrom = (this.#activeFrom + 1) % this.#active.length
      this.#activeCount--
      this.#isActive[node] = 0
    }
    return NONE
  }

  #hang(node: number, arcToParent: number, parent: number): void {
    this.#parent[node] = arcToParent
    this.#distance[node] = this.#distance[parent] + 1
    this.#seenAt[node] = this.#seenAt[parent]
  }

  /** Fills the path through a bridge; who hung on an arc that is now full is an orphan. */
  #augment(bridge: number): void {
    const [head, residual, parent, terminal] = [this.#head, this.#residual, this.#parent, this.#terminal]
    const [from, to] = [head[bridge ^ 1], head[bridge]]
    let most = residual[bridge]
    let node = from
    for (; parent[node] !== ROOT; node = head[parent[node]]) most = Math.min(most, residual[parent[node] ^ 1])
    most = Math.min(most, terminal[node])
    for (node = to; parent[node] !== ROOT; node = head[parent[node]])
      most = Math.min(most, residual[parent[node]])
    most = Math.min(most, -terminal[node])

    this.#flow += most
    this.#push(bridge, most)
    for (node = from; parent[node] !== ROOT; ) {
      const arc = parent[node]
      this.#push(arc ^ 1, most)
      if (residual[arc ^ 1] === 0) this.#orphan(node)
      node = head[arc]
    }
    terminal[node] -= most
    if (terminal[node] === 0) this.#orphan(node)
    for (node = to; parent[node] !== ROOT; ) {
      const arc = parent[node]
      this.#push(arc, most)
      if (residual[arc] === 0) this.#orphan(node)
      node = head[arc]
    }
    terminal[node] += most
    if (terminal[node] === 0) this.#orphan(node)
  }

  #push(arc: number, amount: number): void {
    this.#residual[arc] -= amount
    this.#residual[arc ^ 1] += amount
  }

  #orphan(node: number): void {
    this.#parent[node] = ORPHAN
    this.#orphans.push(node)
  }

  /** Every orphan finds another parent in its own tree, or falls out of it and leaves its children orphans. */
  #adopt(): void {
    for (let node = this.#orphans.pop(); node !== undefined; node = this.#orphans.pop()) {
      const tree = this.#tree[node]
      let best = NONE
      let nearest = Number.POSITIVE_INFINITY
      for (let arc = this.#firstArc[node]; arc !== NONE; arc = this.#nextArc[arc]) {
        const other = this.#head[arc]
        if (this.#tree[other] !== tree || !this.#open(tree, arc ^ 1)) continue
        const distance = this.#distanceToRoot(other)
        if (distance >= nearest) continue
        nearest = distance
        best = arc
      }
      if (best !== NONE) {
        this.#parent[node] = best
        this.#distance[node] = nearest + 1
        this.#seenAt[node] = this.#time
        continue
      }
      this.#tree[node] = FREE
      this.#parent[node] = NONE
      for (let arc = this.#firstArc[node]; arc !== NONE; arc = this.#nextArc[arc]) {
        const other = this.#head[arc]
        if (this.#tree[other] !== tree) continue
        if (this.#open(tree, arc ^ 1)) this.#activate(other)
        if (this.#parent[other] === (arc ^ 1)) this.#orphan(other)
      }
    }
  }

  /** Steps from a node to its root; Infinity where an orphan is on the way. What was walked is marked for this stage. */
  #distanceToRoot(start: number): number {
    let steps = 0
    let node = start
    while (this.#seenAt[node] !== this.#time) {
      const arc = this.#parent[node]
      if (arc === ORPHAN || arc === NONE) return Number.POSITIVE_INFINITY
      if (arc === ROOT) {
        this.#seenAt[node] = this.#time
        this.#distance[node] = 1
        break
      }
      steps++
      node = this.#head[arc]
    }
    const total = steps + this.#distance[node]
    let distance = total
    for (node = start; this.#seenAt[node] !== this.#time; node = this.#head[this.#parent[node]]) {
      this.#seenAt[node] = this.#time
      this.#distance[node] = distance--
    }
    return total
  }
}
