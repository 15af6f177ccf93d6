// The package as somebody else gets it: packed, installed into an empty folder, type-checked and run. It takes the registry,
// as installing anything does.
import { execFileSync, spawnSync } from 'node:child_process'
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { availableParallelism, tmpdir } from 'node:os'
import { basename, dirname, join, resolve } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { patch, plantShade } from './search/shaded.js'
import { plantPlate } from './synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-library-'))
afterAll(() => rmSync(folder, { recursive: true }))
const EXAMPLES = resolve('fixtures/examples')
const BUILT = existsSync('dist/index.js')
const MINUTES = 60_000
const COMMAND = join(folder, 'node_modules/.bin/offcut')

/** @returns what it printed */
function run(command: string, args: readonly string[], cwd = folder): string {
  return execFileSync(command, args, { cwd, encoding: 'utf8', stdio: 'pipe' })
}

/** What the command of the installed package does. @param options for Node */
function offcut(args: readonly string[], options = '') {
  return spawnSync(process.execPath, [...options.split(' ').filter(Boolean), COMMAND, ...args], {
    cwd: folder,
    encoding: 'utf8',
  })
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
        frames: 48,
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
    'type-checks in a strict project that uses all of the job, and runs there',
    () => {
      writeFileSync(
        join(folder, 'consumer.ts'),
        `import { borrow, findDonors, hide, LIMITS, OffcutError, openRepair, openShot, pick, picturesOf, progressOf, readDecisions,
  readResult, repairFrame, type Result, resultOf, type SearchEvent, surveyPlate, withFootage, writeCandidate, writeLighting,
  writeResultFolder, writeSheet } from 'offcut'
const [target, out]: readonly string[] = process.argv.slice(2)
if (target === undefined || out === undefined) throw new OffcutError('NOTHING', 'name a plate and a folder', 2)
const shot = await openShot({ target, frames: '1010', box: { x: 60, y: 40, w: 30, h: 28 } })
const told = new Map<SearchEvent['kind'], number>()
let result: Result | undefined
for await (const event of hide(shot, { keep: 2 })) {
  told.set(event.kind, (told.get(event.kind) ?? 0) + 1)
  if (event.kind === 'done') result = event.result
}
if (result === undefined) throw new OffcutError('NOTHING', 'the search told no result', 1)
const job = await openRepair(result)
await writeResultFolder(out, job)
const again = await readResult(out)
const best = pick(again.result, result.candidates[0]!.id)
const { patch: { shape: [height, width, channels] } } = await repairFrame(job, best, best.frames[0]!)
const survey = await surveyPlate(target)
console.log(told.get('row'), told.get('done'), best.verdict, height >= 28, width >= 30, channels, survey.frames.length)
export const rest = [borrow, findDonors, picturesOf, progressOf, readDecisions, resultOf, withFootage, writeCandidate,
  writeLighting, writeSheet]
export const limit: number = LIMITS.ncc.holds[0]
// @ts-expect-error a frame is a number or a range in words
export const wrong = () => openShot({ target: 'quay', frames: true })
`,
      )
      const options = ['--strict', '--module', 'nodenext', '--target', 'es2022', '--types', 'node']
      const roots = ['--typeRoots', resolve('node_modules/@types')]
      const tsc = resolve('node_modules/typescript/bin/tsc')
      expect(run(process.execPath, [tsc, ...options, ...roots, 'consumer.ts'])).toBe('')
      const printed = run(process.execPath, ['consumer.js', porter, join(folder, 'consumed')])
      expect(printed.trim()).toBe('1 1 holds up true true 3 48')
    },
    MINUTES,
  )

  test(
    'has the command, which reads frames on another thread and draws the sheet',
    () => {
      expect(offcut(['--help']).stdout).toMatch(/^Usage: offcut /)
      // A thread whose file is not found is done without, in silence: so they are counted.
      const counting = `import { isMainThread } from 'node:worker_threads'
        let threads = 0
        process.on('worker', () => threads++)
        if (isMainThread) process.on('exit', () => console.error('threads: ' + threads))`
      writeFileSync(join(folder, 'counting.mjs'), counting)
      const out = join(folder, 'found')
      const asked = ['--box', '60,40,30,28', '--frames', '1010-1012', '--keep', '2', '--out', out]
      const { status, stdout, stderr } = offcut(['find', porter, ...asked], '--import ./counting.mjs')
      expect(status, stderr).toBe(0)
      expect(stdout).toContain('patch   offcut patch')
      expect(readdirSync(out)).toEqual(expect.arrayContaining(['result.json', 'sheet.html', 'sheet.png']))
      // Of two threads one is the command's own.
      if (availableParallelism() > 1) expect(stderr).toContain('threads: 1')
    },
    MINUTES,
  )

  test('looks for what lies beside its modules where that is', () => {
    const dist = join(folder, 'node_modules/offcut/dist')
    const sought = /new URL\("([^"]+\.(?:js|json|wasm))", new URL\("([^"]+)", import\.meta\.url\)\)/g
    const files = (readdirSync(dist, { recursive: true }) as string[]).filter((name) => /\.js$/.test(name))
    const found = files.flatMap((name) => {
      const text = readFileSync(join(dist, name), 'utf8')
      return [...text.matchAll(sought)].map(([, file, module]) =>
        join(dist, dirname(name), dirname(module), file),
      )
    })
    expect(found.map((path) => basename(path)).sort()).toEqual([
      'draw-worker.js',
      'kernels.wasm',
      'offcut.js',
      'package.json',
      'picture-worker.js',
      'preview-worker.js',
      'track-worker.js',
    ])
    expect(found.filter((path) => !existsSync(path))).toEqual([])
  })

  test('says under --debug where in the source an error came from', () => {
    const { status, stderr } = offcut(['find', porter, '--box', '60,40,30,28', '--frames', '9999', '--debug'])
    expect(status).toBe(2)
    expect(stderr).toMatch(/ at openShot \(.*[\\/]src[\\/]shot[\\/]open-shot\.ts:\d+:\d+\)/)
  })

  test('holds what is needed to run and to compile against, and no source', () => {
    const ends = (readdirSync(join(folder, 'node_modules/offcut/dist'), { recursive: true }) as string[])
      .filter((name) => name.includes('.'))
      .map((name) => name.replace(/^.*?\./, '.'))
    expect([...new Set(ends)].sort()).toEqual(['.css', '.d.ts', '.js', '.js.map', '.schema.json', '.wasm'])
  })

  test.each(['result', 'decisions', 'patch'])('has the JSON Schema of %s.json', (name) => {
    const script = `import { readFile } from 'node:fs/promises'
      import { fileURLToPath } from 'node:url'
      const path = fileURLToPath(import.meta.resolve('offcut/${name}.schema.json'))
      console.log(JSON.parse(await readFile(path, 'utf8')).properties.schema.const)`
    writeFileSync(join(folder, `${name}.mjs`), script)
    expect(run(process.execPath, [`${name}.mjs`]).trim()).toBe(`offcut.${name}/1`)
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
      expect(said[0]).toBe('48 frames to read')
      expect(said.filter((line) => line.includes('compared with'))).toHaveLength(3)
      expect(said.at(-1)).toBe('three are enough')
    },
    MINUTES,
  )

  test(
    'draws a sheet of still frames alone, as the example does',
    () => {
      const out = join(folder, 'stills')
      const ids = example('sheet-of-holds.mjs', porter, '1010-1012', '60,40,30,28', out).trim().split(' ')
      expect(ids).toHaveLength(2)
      expect(readdirSync(out).sort()).toEqual(['sheet.html', 'sheet.png'])
      const page = readFileSync(join(out, 'sheet.html'), 'utf8')
      expect(page).toContain('still frames only')
      for (const id of ids) expect(id).toMatch(/^hold-/)
      for (const id of ids) expect(page).toContain(id)
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
