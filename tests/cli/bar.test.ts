import { describe, expect, test } from 'vitest'
import { barText, progressBar } from '../../src/cli/bar.js'

function terminal(isTTY: boolean | undefined) {
  const written: string[] = []
  return { isTTY, columns: 80, written, write: (text: string) => written.push(text) }
}

describe('the bar’s text', () => {
  test('has what is done, the rate and the time left', () => {
    const text = barText({ phase: 'reading', done: 120, total: 480 }, 4, 80)
    expect(text).toContain('reading')
    expect(text).toContain('120/480')
    expect(text).toContain('30 frames/s')
    expect(text).toContain('12 s left')
  })

  test('gives slow work its tenths and long work its minutes', () => {
    const text = barText({ phase: 'matching', done: 12, total: 2000 }, 8, 80)
    expect(text).toContain('1.5 frames/s')
    expect(text).toContain('23 min left')
  })

  test('guesses no rate from the first frame', () => {
    expect(barText({ phase: 'reading', done: 1, total: 480 }, 0.01, 80)).not.toMatch(/frames\/s|left/)
  })

  test('has nothing left when all is done, and no NaN where there is nothing to do', () => {
    expect(barText({ phase: 'reading', done: 480, total: 480 }, 10, 80)).not.toContain('left')
    expect(barText({ phase: 'reading', done: 0, total: 0 }, 10, 80)).not.toMatch(/NaN|Infinity/)
  })

  test('fits the terminal’s width', () => {
    for (const columns of [200, 80, 40, 24])
      expect(barText({ phase: 'reading', done: 120, total: 480 }, 4, columns).length).toBeLessThan(columns)
  })
})

describe('progress', () => {
  test('on a terminal is redrawn in place, at most ten times a second, and the last frame always', () => {
    const to = terminal(true)
    let time = 0
    const { report, clear } = progressBar(to, () => time)
    for (let done = 1; done <= 100; done++) {
      time += 10
      report({ phase: 'reading', done, total: 100 })
    }
    expect(to.written.length).toBeLessThanOrEqual(12)
    expect(to.written.every((text) => text.startsWith('\r'))).toBe(true)
    expect(to.written.join('')).not.toContain('\n')
    expect(to.written.at(-1)).toContain('100/100')
    clear()
    expect(to.written.at(-1)).toBe('\r\u001b[K')
  })

  test('counts the rate of each phase from that phase’s start', () => {
    const to = terminal(true)
    let time = 0
    const { report } = progressBar(to, () => time)
    report({ phase: 'reading', done: 1, total: 10 })
    time = 100_000
    report({ phase: 'matching', done: 0, total: 40 })
    time = 101_000
    report({ phase: 'matching', done: 20, total: 40 })
    expect(to.written.at(-1)).toContain('20 frames/s')
  })

  test.each([false, undefined])('piped (isTTY %s) is one plain line per phase', (isTTY) => {
    const to = terminal(isTTY)
    const { report, clear } = progressBar(to)
    for (const phase of ['reading', 'matching'])
      for (let done = 1; done <= 30; done++) report({ phase, done, total: 30 })
    clear()
    expect(to.written).toEqual(['reading: 30 frames\n', 'matching: 30 frames\n'])
  })

  test('counts one frame as one, and candidates as candidates', () => {
    const to = terminal(false)
    const { report } = progressBar(to)
    for (const [phase, total] of [
      ['reading', 1],
      ['drawing candidates', 12],
      ['drawing frames', 144],
    ] as const)
      report({ phase, done: 0, total })
    expect(to.written).toEqual(['reading: 1 frame\n', 'drawing candidates: 12\n', 'drawing frames: 144\n'])
    expect(barText({ phase: 'drawing candidates', done: 6, total: 12 }, 2, 80)).toContain('3.0 candidates/s')
  })
})
