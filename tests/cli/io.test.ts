// What goes out to the two streams: nothing from outside acts on the terminal, and JSON stays JSON.
import { describe, expect, test } from 'vitest'
import { progressBar } from '../../src/cli/bar.js'
import { loadWrapping, printJson, streamIo } from '../../src/cli/io.js'
import { printable } from '../../src/errors.js'

await loadWrapping()

/** Sets colour, title and clipboard; turns the direction of writing; C1 controls; line ends. */
const HOSTILE =
  'a\u001b[31m\u001b]0;t\u0007b\u009b2Jc\rd\u0008e\u202egpj.\u2066\u200f\u061cf\u2028g\u0085h\u007f'
const ACTS = /[\p{Cc}\p{Bidi_Control}\u2028\u2029]/u

function streams(columns?: number) {
  const out: string[] = []
  const err: string[] = []
  const into = (list: string[]) => ({
    isTTY: columns !== undefined,
    columns,
    write: (text: string) => list.push(text),
  })
  const io = streamIo(into(out), into(err), new AbortController().signal)
  return { io, stdout: () => out.join(''), stderr: () => err.join('') }
}

describe.each([undefined, 80])('on a stream of %s columns', (columns) => {
  test('nothing that is printed or said acts on the terminal', () => {
    const { io, stdout, stderr } = streams(columns)
    io.print(HOSTILE, `two ${HOSTILE}`)
    io.say(`note: ${HOSTILE}`)
    printJson(io, { name: HOSTILE, [HOSTILE]: 1 })
    for (const text of [stdout(), stderr()]) {
      expect(text.replaceAll('\n', '')).not.toMatch(ACTS)
      expect(text).toContain('\\u001b[31m')
      expect(text).toContain('\\u202egpj.')
    }
  })

  test('a line end inside a line begins no new line', () => {
    const { io, stdout } = streams(columns)
    io.print('plate  a\nb.png', 'end')
    expect(stdout()).toBe('plate  a\\u000ab.png\nend\n')
  })

  test('JSON is parsed to what was meant, byte for byte', () => {
    const { io, stdout } = streams(columns)
    const value = { name: HOSTILE, list: [HOSTILE, 'plain', '岸壁 ü 😀'] }
    printJson(io, value)
    expect(JSON.parse(stdout())).toEqual(value)
  })
})

test('a progress phase can’t act on the terminal either', () => {
  const written: string[] = []
  progressBar({ isTTY: false, write: (text) => written.push(text) }).report({
    phase: HOSTILE,
    done: 0,
    total: 1,
  })
  expect(written.join('').trimEnd()).not.toMatch(ACTS)
})

test('a remark breaks between words on a narrow terminal, and a path in it stays whole', () => {
  const { io, stderr } = streams(40)
  const path = `/plates/${'quay'.repeat(12)}.png`
  io.say(`note: ${path} can't be read and is therefore left out of the search`)
  const lines = stderr().trimEnd().split('\n')
  expect(lines).toContain(path)
  for (const line of lines) if (line !== path) expect(line.length).toBeLessThanOrEqual(40)
})

test('what is visible already stays as it is, and letters of any writing do', () => {
  expect(printable(printable(HOSTILE))).toBe(printable(HOSTILE))
  const letters = 'quay_岸壁_ق_ü_😀_👩‍🎨.png'
  expect(printable(letters)).toBe(letters)
})
