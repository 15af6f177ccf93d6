// The graph that labels are spread over, as tests fill and ask it.
import type { Held, Workspace } from '../../src/kernels/workspace.js'

/**
 * A graph that can be used again: `clear`, add, `solve`, ask. Nodes are 0 to one below `nodes`, beside them the source and
 * the sink. Capacities are at least 0; whole numbers are summed exactly up to 2^53, others as floats are.
 */
export class FlowGraph {
  readonly #memory: Uint8Array

  /** @param held where it lies; for @param maxNodes and @param maxEdges, of which each is both of its directions */
  constructor(
    readonly workspace: Workspace,
    held: Held,
    maxNodes: number,
    maxEdges: number,
  ) {
    const bytes = workspace.run((kernels) => kernels.graphBytes(maxNodes, maxEdges))
    this.#memory = held.bytes(bytes)
    workspace.run((kernels) => kernels.layGraph(this.#memory.byteOffset, maxNodes, maxEdges))
  }

  /** Forgets everything. @param nodes that it now has, without arcs */
  clear(nodes: number): void {
    this.workspace.run((kernels) => kernels.clearGraph(this.#memory.byteOffset, nodes))
  }

  /** Adds capacity from the source to a node, and from it to the sink. */
  addTerminals(node: number, fromSource: number, toSink: number): void {
    this.workspace.run((kernels) => kernels.addTerminals(this.#memory.byteOffset, node, fromSource, toSink))
  }

  /** Adds an edge between two nodes with its capacity in each direction. */
  addEdge(a: number, b: number, capacity: number, back: number): void {
    this.workspace.run((kernels) => kernels.addEdge(this.#memory.byteOffset, a, b, capacity, back))
  }

  /** The largest flow. Once per `clear`. */
  solve(): number {
    return this.workspace.run((kernels) => kernels.solveGraph(this.#memory.byteOffset))
  }

  /** After `solve`: whether a node lies on the source's side of a smallest cut. */
  isSourceSide(node: number): boolean {
    return Boolean(this.workspace.run((kernels) => kernels.isSourceSide(this.#memory.byteOffset, node)))
  }
}
