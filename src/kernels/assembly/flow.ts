// The largest flow from a source to a sink through a graph, and the smallest cut that it leaves: Y. Boykov, V. Kolmogorov,
// An Experimental Comparison of Min-Cut/Max-Flow Algorithms for Energy Minimization in Vision (PAMI 2004). Two trees grow
// from source and sink until they touch, the path is filled, what it cut off looks for another parent. With their marks of
// time and distance (section 3.2.2 names them), so that an orphan's way to its root is walked once per stage. AssemblyScript.

const FREE: u8 = 0
const SOURCE: u8 = 1
const SINK: u8 = 2

/** In place of the arc to a node's parent. */
const NONE: i32 = -1
const ROOT: i32 = -2
const ORPHAN: i32 = -3
/** Further than any root. */
const FAR: i32 = i32.MAX_VALUE

const HEAD_BYTES: usize = 96

/** A graph lies in one piece of memory: this, and behind it what it points to, of each node and of each arc. */
@unmanaged
class Graph {
  flow: f64
  maxNodes: i32
  nodes: i32
  arcs: i32
  time: i32
  activeFrom: i32
  activeCount: i32
  orphanCount: i32
  /** What is left from the source to a node, or, below 0, from it to the sink; float64. */
  terminal: usize
  /** What an arc still carries; float64. */
  residual: usize
  firstArc: usize
  nextArc: usize
  /** The node an arc leads to; arc ^ 1 leads back. */
  head: usize
  /** The arc from a node to its parent, or NONE, ROOT, ORPHAN. */
  parent: usize
  distance: usize
  /** When the distance was last known to be right. */
  seenAt: usize
  /** Nodes that may still grow: a ring, each node in it once. */
  active: usize
  /** The last one first. */
  orphans: usize
  tree: usize
  isActive: usize
}

export function graphBytes(maxNodes: i32, maxEdges: i32): usize {
  const nodes = <usize>maxNodes
  return HEAD_BYTES + nodes * (8 + 6 * 4 + 2) + <usize>maxEdges * 2 * (8 + 2 * 4)
}

/** Makes a graph of memory that has room for so many nodes and edges; an edge is both of its directions. */
export function layGraph(at: usize, maxNodes: i32, maxEdges: i32): void {
  const graph = changetype<Graph>(at)
  const nodes = <usize>maxNodes
  const arcs: usize = (<usize>maxEdges) << 1
  graph.maxNodes = maxNodes
  graph.terminal = at + HEAD_BYTES
  graph.residual = graph.terminal + 8 * nodes
  graph.firstArc = graph.residual + 8 * arcs
  graph.nextArc = graph.firstArc + 4 * nodes
  graph.head = graph.nextArc + 4 * arcs
  graph.parent = graph.head + 4 * arcs
  graph.distance = graph.parent + 4 * nodes
  graph.seenAt = graph.distance + 4 * nodes
  graph.active = graph.seenAt + 4 * nodes
  graph.orphans = graph.active + 4 * nodes
  graph.tree = graph.orphans + 4 * nodes
  graph.isActive = graph.tree + nodes
  clearGraph(at, 0)
}

/** Forgets everything. @param nodes that it now has, without arcs */
export function clearGraph(at: usize, nodes: i32): void {
  const graph = changetype<Graph>(at)
  graph.nodes = nodes
  graph.arcs = 0
  graph.flow = 0
  graph.orphanCount = 0
  memory.fill(graph.firstArc, 0xff, (<usize>nodes) << 2)
  memory.fill(graph.terminal, 0, (<usize>nodes) << 3)
}

/** Adds capacity from the source to a node, and from it to the sink. */
export function addTerminals(at: usize, node: i32, fromSource: f64, toSink: f64): void {
  const graph = changetype<Graph>(at)
  const terminal = graph.terminal + ((<usize>node) << 3)
  // What can run straight through does; then one number holds what is left, on whichever side.
  const kept = load<f64>(terminal)
  const before = max<f64>(kept, 0) + fromSource
  const after = max<f64>(-kept, 0) + toSink
  graph.flow += min(before, after)
  store<f64>(terminal, before - after)
}

/** Adds an edge between two nodes with its capacity in each direction. */
export function addEdge(at: usize, a: i32, b: i32, capacity: f64, back: f64): void {
  const graph = changetype<Graph>(at)
  const arc = graph.arcs
  graph.arcs += 2
  put(graph.head, arc, b)
  put(graph.head, arc + 1, a)
  putReal(graph.residual, arc, capacity)
  putReal(graph.residual, arc + 1, back)
  put(graph.nextArc, arc, get(graph.firstArc, a))
  put(graph.firstArc, a, arc)
  put(graph.nextArc, arc + 1, get(graph.firstArc, b))
  put(graph.firstArc, b, arc + 1)
}

/** The largest flow. Once per `clearGraph`. */
export function solveGraph(at: usize): f64 {
  const graph = changetype<Graph>(at)
  plant(graph)
  for (let bridge = grow(graph); bridge !== NONE; bridge = grow(graph)) {
    graph.time++
    augment(graph, bridge)
    adopt(graph)
  }
  return graph.flow
}

/** After `solveGraph`: whether a node lies on the source's side of a smallest cut. */
export function isSourceSide(at: usize, node: i32): boolean {
  return treeOf(changetype<Graph>(at), node) === SOURCE
}

function get(list: usize, i: i32): i32 {
  return load<i32>(list + ((<usize>i) << 2))
}

function put(list: usize, i: i32, value: i32): void {
  store<i32>(list + ((<usize>i) << 2), value)
}

function real(list: usize, i: i32): f64 {
  return load<f64>(list + ((<usize>i) << 3))
}

function putReal(list: usize, i: i32, value: f64): void {
  store<f64>(list + ((<usize>i) << 3), value)
}

function treeOf(graph: Graph, node: i32): u8 {
  return load<u8>(graph.tree + <usize>node)
}

function plant(graph: Graph): void {
  graph.time = 1
  graph.activeFrom = 0
  graph.activeCount = 0
  for (let node = 0; node < graph.nodes; node++) {
    const left = real(graph.terminal, node)
    store<u8>(graph.isActive + <usize>node, 0)
    put(graph.seenAt, node, 0)
    store<u8>(graph.tree + <usize>node, left > 0 ? SOURCE : left < 0 ? SINK : FREE)
    put(graph.parent, node, left === 0 ? NONE : ROOT)
    put(graph.distance, node, 1)
    if (left !== 0) activate(graph, node)
  }
}

function activate(graph: Graph, node: i32): void {
  if (load<u8>(graph.isActive + <usize>node)) return
  store<u8>(graph.isActive + <usize>node, 1)
  let place = graph.activeFrom + graph.activeCount
  if (place >= graph.maxNodes) place -= graph.maxNodes
  put(graph.active, place, node)
  graph.activeCount++
}

/** What can still flow along an arc in the direction in which a tree carries it: away from the source, to the sink. */
function isOpen(graph: Graph, tree: u8, arc: i32): boolean {
  return real(graph.residual, tree === SOURCE ? arc : arc ^ 1) > 0
}

/** Grows both trees until they touch. @returns the arc from the source's tree to the sink's; NONE: they never do */
function grow(graph: Graph): i32 {
  while (graph.activeCount > 0) {
    const node = get(graph.active, graph.activeFrom)
    const tree = treeOf(graph, node)
    if (tree !== FREE) {
      for (let arc = get(graph.firstArc, node); arc !== NONE; arc = get(graph.nextArc, arc)) {
        if (!isOpen(graph, tree, arc)) continue
        const other = get(graph.head, arc)
        const otherTree = treeOf(graph, other)
        if (otherTree === FREE) {
          store<u8>(graph.tree + <usize>other, tree)
          hang(graph, other, arc ^ 1, node)
          activate(graph, other)
        } else if (otherTree !== tree) {
          // The node stays active: it may touch the other tree in more than one place.
          return tree === SOURCE ? arc : arc ^ 1
        } else if (
          get(graph.seenAt, other) <= get(graph.seenAt, node) &&
          get(graph.distance, other) > get(graph.distance, node) + 1
        ) {
          // A shorter way to the root keeps the paths short.
          hang(graph, other, arc ^ 1, node)
        }
      }
    }
    if (++graph.activeFrom === graph.maxNodes) graph.activeFrom = 0
    graph.activeCount--
    store<u8>(graph.isActive + <usize>node, 0)
  }
  return NONE
}

function hang(graph: Graph, node: i32, arcToParent: i32, parent: i32): void {
  put(graph.parent, node, arcToParent)
  put(graph.distance, node, get(graph.distance, parent) + 1)
  put(graph.seenAt, node, get(graph.seenAt, parent))
}

/** Fills the path through a bridge; who hung on an arc that is now full is an orphan. */
function augment(graph: Graph, bridge: i32): void {
  const from = get(graph.head, bridge ^ 1)
  const to = get(graph.head, bridge)
  let most = real(graph.residual, bridge)
  let node = from
  for (let arc = get(graph.parent, node); arc !== ROOT; arc = get(graph.parent, node)) {
    most = min(most, real(graph.residual, arc ^ 1))
    node = get(graph.head, arc)
  }
  most = min(most, real(graph.terminal, node))
  node = to
  for (let arc = get(graph.parent, node); arc !== ROOT; arc = get(graph.parent, node)) {
    most = min(most, real(graph.residual, arc))
    node = get(graph.head, arc)
  }
  most = min(most, -real(graph.terminal, node))

  graph.flow += most
  push(graph, bridge, most)
  node = from
  for (let arc = get(graph.parent, node); arc !== ROOT; arc = get(graph.parent, node)) {
    push(graph, arc ^ 1, most)
    const next = get(graph.head, arc)
    if (real(graph.residual, arc ^ 1) === 0) orphan(graph, node)
    node = next
  }
  drain(graph, node, -most)
  node = to
  for (let arc = get(graph.parent, node); arc !== ROOT; arc = get(graph.parent, node)) {
    push(graph, arc, most)
    const next = get(graph.head, arc)
    if (real(graph.residual, arc) === 0) orphan(graph, node)
    node = next
  }
  drain(graph, node, most)
}

/** Adds to what is left at a root; one that has nothing left is an orphan. */
function drain(graph: Graph, node: i32, amount: f64): void {
  const left = real(graph.terminal, node) + amount
  putReal(graph.terminal, node, left)
  if (left === 0) orphan(graph, node)
}

function push(graph: Graph, arc: i32, amount: f64): void {
  putReal(graph.residual, arc, real(graph.residual, arc) - amount)
  putReal(graph.residual, arc ^ 1, real(graph.residual, arc ^ 1) + amount)
}

function orphan(graph: Graph, node: i32): void {
  put(graph.parent, node, ORPHAN)
  put(graph.orphans, graph.orphanCount, node)
  graph.orphanCount++
}

/** Every orphan finds another parent in its own tree, or falls out of it and leaves its children orphans. */
function adopt(graph: Graph): void {
  while (graph.orphanCount > 0) {
    graph.orphanCount--
    const node = get(graph.orphans, graph.orphanCount)
    const tree = treeOf(graph, node)
    let best = NONE
    let nearest = FAR
    for (let arc = get(graph.firstArc, node); arc !== NONE; arc = get(graph.nextArc, arc)) {
      const other = get(graph.head, arc)
      if (treeOf(graph, other) !== tree || !isOpen(graph, tree, arc ^ 1)) continue
      const distance = distanceToRoot(graph, other)
      if (distance >= nearest) continue
      nearest = distance
      best = arc
    }
    if (best !== NONE) {
      put(graph.parent, node, best)
      put(graph.distance, node, nearest + 1)
      put(graph.seenAt, node, graph.time)
      continue
    }
    store<u8>(graph.tree + <usize>node, FREE)
    put(graph.parent, node, NONE)
    for (let arc = get(graph.firstArc, node); arc !== NONE; arc = get(graph.nextArc, arc)) {
      const other = get(graph.head, arc)
      if (treeOf(graph, other) !== tree) continue
      if (isOpen(graph, tree, arc ^ 1)) activate(graph, other)
      if (get(graph.parent, other) === (arc ^ 1)) orphan(graph, other)
    }
  }
}

/** Steps from a node to its root; FAR where an orphan is on the way. What was walked is marked for this stage. */
function distanceToRoot(graph: Graph, start: i32): i32 {
  let steps = 0
  let node = start
  while (get(graph.seenAt, node) !== graph.time) {
    const arc = get(graph.parent, node)
    if (arc === ORPHAN || arc === NONE) return FAR
    if (arc === ROOT) {
      put(graph.seenAt, node, graph.time)
      put(graph.distance, node, 1)
      break
    }
    steps++
    node = get(graph.head, arc)
  }
  const total = steps + get(graph.distance, node)
  let distance = total
  for (
    node = start;
    get(graph.seenAt, node) !== graph.time;
    node = get(graph.head, get(graph.parent, node))
  ) {
    put(graph.seenAt, node, graph.time)
    put(graph.distance, node, distance)
    distance--
  }
  return total
}
