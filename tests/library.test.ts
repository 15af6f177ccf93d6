// The package as somebody else gets it: packed, installed into an empty folder, type-checked and run. It takes the registry,
// as installing anything does.
import { execFileSync } from 'node:child_process'
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { patch, plantShade } from './search/shaded.js'
import { plantPlate } from './synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-library-'))
afterAll(() => rmSync(folder, { recursive: true }))
const EXAMPLES = resolve('fixtures/examples')
const BUILT = existsSync('dist/index.js')
const MINUTES = 60_000

/** @returns what it printed */
function run(command: string, args: readonly string[], cwd = folder): string {
  return execFileSync(command, args, { cwd, encoding: 'utf8', stdio: 'pipe' })
}

describe.skipIf(!BUILT)('the packed package (skipped before npm run build)', () => {
  let porter: string
  let heron: string
  beforeAll(async () => {
    const [{ filename }] = JSON.parse(
      run('npm', ['pack', '--json', '--ignore-scripts', '--pack-destination', folder], process.cwd()),
    )
    writeFileSync(join(folder, 'package.json'), '{ "name": "consumer", "private": true, "type": "module" }')
    run('npm', ['install', '--prefer-offline', '--no-audit', '--no-fund', join(folder, filename)])
    porter = (
      await plantPlate(join(folder, 'quay'), {
        frames: 24,
        noise: 0.01,
        occluders: (i) => (i >= 9 && i <= 11 ? [{ x: 66, y: 44, w: 12, h: 20, light: 0.02 }] : []),
      })
    ).folder
    heron = (
      await plantShade(join(folder, 'wall'), {
        shades: [patch({ stops: -0.6, peak: 23, x: 75, y: 54 })],
      })
    ).folder
  }, 3 * MINUTES)

  test(
    'type-checks in a strict project that uses all of the job',
    () => {
      writeFileSync(
        join(folder, 'consumer.ts'),
        `import { borrow, findDonors, hide, type LIMITS, OffcutError, openRepair, openShot, pick, readDecisions, readResult,
  repairFrame, type Result, type SearchEvent, surveyPlate, writeCandidate, writeLighting, writeResultFolder } from 'offcut'
export async function job(target: string): Promise<Result> {
  const shot = await openShot({ target, frames: '1001-1004', box: { x: 0, y: 0, w: 8, h: 8 } })
  const told: SearchEvent['kind'][] = []
  for await (const event of hide(shot)) {
    told.push(event.kind)
    if (event.kind === 'done') return event.result
  }
  throw new OffcutError('NOTHING', told.join(), 1)
}
export const rest = [borrow, findDonors, openRepair, pick, readDecisions, readResult, repairFrame, surveyPlate,
  writeCandidate, writeLighting, writeResultFolder]
export const limit: number = ({} as typeof LIMITS).ncc.holds[0]
// @ts-expect-error a frame is a number or a range in words
export const wrong = openShot({ target: 'quay', frames: true })
`,
      )
      const options = ['--strict', '--noEmit', '--module', 'nodenext', '--target', 'es2022', '--types', '']
      const tsc = resolve('node_modules/typescript/bin/tsc')
      expect(run(process.execPath, [tsc, ...options, 'consumer.ts'])).toBe('')
    },
    MINUTES,
  )

  test('has the JSON Schemas of what it writes and reads', () => {
    const script = `import result from 'offcut/result.schema.json' with { type: 'json' }
      import decisions from 'offcut/decisions.schema.json' with { type: 'json' }
      console.log(result.properties.schema.const, decisions.properties.schema.const)`
    const printed = run(process.execPath, ['--no-warnings', '--input-type=module', '-e', script])
    expect(printed.trim()).toBe('offcut.result/1 offcut.decisions/1')
  })

  const example = (name: string, ...args: string[]) => {
    const copy = join(folder, name)
    copyFileSync(join(EXAMPLES, name), copy)
    return run(process.execPath, [copy, ...args])
  }

  test(
    'covers the porter as the example does',
    () => {
      const out = join(folder, 'hidden')
      const said = example('hide-porter.mjs', porter, '1010-1012', '60,40,30,28', out)
      expect(said).toMatch(/holds up: 3 patches/)
      expect(readdirSync(out).sort()).toEqual([
        'candidates.csv',
        'patch',
        'result.json',
        'sheet.html',
        'sheet.png',
      ])
      expect(readdirSync(join(out, 'patch'))).toHaveLength(3)
    },
    MINUTES,
  )

  test(
    'tells its ranking as it goes on, and can be called off',
    () => {
      const said = example('watch-ranking.mjs', porter, '1010-1012', '60,40,30,28').trim().split('\n')
      expect(said[0]).toBe('24 frames to read')
      expect(said.filter((line) => line.includes('compared with'))).toHaveLength(3)
      expect(said.at(-1)).toBe('three are enough')
    },
    MINUTES,
  )

  test(
    'borrows the shadow as the example does',
    () => {
      mkdirSync(join(folder, 'lit'))
      const said = example(
        'borrow-shadow.mjs',
        heron,
        '1003-1009',
        '60,40,30,28',
        join(folder, 'lit', 'pass'),
      )
      expect(said).toMatch(/peak 1024, 0\.6\d* stops, 7 frames/)
    },
    MINUTES,
  )
})
