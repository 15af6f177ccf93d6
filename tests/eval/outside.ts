// What general-purpose parts make of a camera that moves, beside ours: OpenCV's feature homography, and ECC from there.
import { spawn, spawnSync } from 'node:child_process'
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { compose, invert, type Transform } from '../../src/raster/transform.js'
import type { Result } from '../../src/search/result.js'
import { middleOf } from './case.js'
import { between, placeError, regionOn, sees } from './places.js'
import { framePath, maskPath, plateFolder, takeFolder } from './plant.js'
import type { Prepared } from './prepare.js'

/** Width of the ring that ECC sees, pixels. */
const RING_PX = 80
/** Donors per case, spread evenly over those that see all of the region. */
const DONORS = 30

/** Per donor: RMS distance from the true place in the region, pixels; null where no place was found. */
export interface Outside {
  readonly by: string
  readonly ours: readonly (number | null)[]
  readonly features: readonly (number | null)[]
  readonly ecc: readonly (number | null)[]
  /** Milliseconds per donor, of ECC with the features that it starts from. */
  readonly featuresMs: readonly number[]
  readonly eccMs: readonly number[]
}

interface Answer {
  readonly version: string
  readonly threads: number
  readonly donors: readonly {
    readonly features: Transform | null
    readonly ecc: Transform | null
    readonly featuresMs: number
    readonly eccMs: number
  }[]
}

/** The middle target frame against donors that see all of the region. @throws where Python has no OpenCV */
export async function outside({ folder, planted }: Prepared, result: Result): Promise<Outside> {
  const { crop, frames, take, window } = planted
  const target = middleOf(window)
  const seeing = frames.filter(
    (f) => !window.frames.includes(f) && (take === undefined || take.frames.includes(f)) && sees(planted, f),
  )
  const donors = seeing.filter((_, i) => i % Math.ceil(seeing.length / DONORS) === 0)
  const plate = (f: number) => (take?.frames.includes(f) ? takeFolder(folder) : plateFolder(folder))
  const {
    version,
    threads,
    donors: answers,
  } = await ask({
    target: framePath(plateFolder(folder), target),
    mask: maskPath(folder),
    donors: donors.map((f) => framePath(plate(f), f)),
    ring: RING_PX,
  })
  const { pixels } = regionOn(planted, target)
  const error = (found: Transform | null, donor: number) =>
    found === null ? null : placeError(found, between(planted, donor, target), pixels, crop.w)
  return {
    by: `OpenCV ${version}, ${threads} threads`,
    ours: donors.map((f) => error(followed(result, f, target), f)),
    features: donors.map((f, i) => error(answers[i].features, f)),
    ecc: donors.map((f, i) => error(answers[i].ecc, f)),
    featuresMs: answers.map((a) => a.featuresMs),
    eccMs: answers.map((a) => a.featuresMs + a.eccMs),
  }
}

/** By the poses of the result; null where one of both was not followed. */
function followed({ camera }: Result, donor: number, target: number): Transform | null {
  // Frame numbers of a planted case are of one plate each.
  const poseOf = (frame: number) => camera?.frames.find((f) => f.frame === frame)?.pose ?? null
  const [from, to] = [poseOf(donor), poseOf(target)]
  return from === null || to === null ? null : compose(invert(to), from)
}

async function ask(job: object): Promise<Answer> {
  const python = ['python3', '/usr/bin/python3'].find(
    (p) => spawnSync(p, ['-c', 'import cv2, numpy']).status === 0,
  )
  if (python === undefined)
    throw new Error("--outside needs OpenCV for Python: install Debian's package python3-opencv")
  const folder = await mkdtemp(join(tmpdir(), 'offcut-eval-outside-'))
  try {
    const path = join(folder, 'job.json')
    await writeFile(path, JSON.stringify(job))
    // The launcher runs in the project's top folder and names this folder's script to us by its own place.
    const script = join(process.argv[1], '..', 'opencv-poses.py')
    return JSON.parse(await output(python, [script, path])) as Answer
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}

function output(command: string, args: readonly string[]): Promise<string> {
  return new Promise((resolve, reject) => {
    const child = spawn(command, args, { stdio: ['ignore', 'pipe', 'pipe'] })
    let [out, problem] = ['', '']
    child.stdout.on('data', (chunk) => {
      out += chunk
    })
    child.stderr.on('data', (chunk) => {
      problem += chunk
    })
    child.on('error', reject)
    child.on('close', (code) => (code === 0 ? resolve(out) : reject(new Error(`${args[0]}: ${problem}`))))
  })
}
