import { describe, expect, test } from 'vitest'
import known from '../../fixtures/max-flow/cases.json' with { type: 'json' }
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'
import { FlowGraph } from './flow-graph.js'
import { cutOf, type FlowCase, plainMaxFlow } from './max-flow.reference.js'

const workspace = new Workspace()

function load(graph: FlowGraph, { terminals, edges }: FlowCase): FlowGraph {
  graph.clear(terminals.length)
  for (const [node, [from, to]] of terminals.entries()) graph.addTerminals(node, from, to)
  for (const [a, b, there, back] of edges) graph.addEdge(a, b, there, back)
  return graph
}

const graphOf = (c: FlowCase) =>
  load(new FlowGraph(workspace, workspace.hold(), c.terminals.length, c.edges.length), c)

/** A grid with diagonals, its capacities whole numbers. */
function randomGrid(key: string, fill: number): FlowCase {
  const random = randomFrom(key)
  const [w, h] = [2 + Math.floor(8 * random()), 1 + Math.floor(8 * random())]
  const upTo = (most: number) => (random() < fill ? Math.floor(most * random()) : 0)
  const edges: number[][] = []
  for (let y = 0; y < h; y++)
    for (let x = 0; x < w; x++)
      for (const [dx, dy] of [
        [1, 0],
        [0, 1],
        [1, 1],
      ])
        if (x + dx < w && y + dy < h) edges.push([y * w + x, (y + dy) * w + x + dx, upTo(20), upTo(20)])
  return { terminals: Array.from({ length: w * h }, () => [upTo(60), upTo(60)]), edges }
}

describe('the largest flow', () => {
  // Outside truth: scipy.sparse.csgraph.maximum_flow (Dinic), written down by fixtures/max-flow/make.py.
  test.each(known.cases)("through $title is SciPy's, and its cut is as large", (c) => {
    const graph = graphOf(c)
    expect(graph.solve()).toBe(c.flow)
    expect(cutOf(c, (node) => graph.isSourceSide(node))).toBe(c.flow)
    expect(plainMaxFlow(c)).toBe(c.flow)
  })

  test('is what the plain way finds, on 300 grids from almost empty to full, one graph for all', () => {
    const graph = new FlowGraph(workspace, workspace.hold(), 100, 300)
    let full = 0
    for (let k = 0; k < 300; k++) {
      const c = randomGrid(`grid ${k}`, 0.2 + 0.8 * ((k % 10) / 9))
      const flow = load(graph, c).solve()
      expect(flow).toBe(plainMaxFlow(c))
      expect(cutOf(c, (node) => graph.isSourceSide(node))).toBe(flow)
      if (flow > 0) full++
    }
    expect(full).toBeGreaterThan(250)
  })

  test('is as large as its cut where capacities are fractions', () => {
    for (let k = 0; k < 50; k++) {
      const whole = randomGrid(`fractions ${k}`, 1)
      const c = {
        terminals: whole.terminals.map((t) => t.map((v) => v / 7)),
        edges: whole.edges.map(([a, b, there, back]) => [a, b, there / 7, back / 7]),
      }
      const graph = graphOf(c)
      const flow = graph.solve()
      expect(Math.abs(flow - cutOf(c, (node) => graph.isSourceSide(node)))).toBeLessThan(1e-9 * (1 + flow))
    }
  })
})
