// The one screen: steps at the top, the picture with its strip, and beside it what the step needs.
import type { ComponentType } from 'preact'
import { useEffect, useLayoutEffect, useRef } from 'preact/hooks'
import { printRuns } from '../../footage/frames.js'
import type { PlateAbout } from '../messages.js'
import { isDrawn } from '../shapes.js'
import { Candidates } from './candidates.js'
import { Closer } from './closer.js'
import { useDecisions } from './decisions-file.js'
import { HelpDialog } from './help.js'
import { helping, STEP_NAMES } from './keys.js'
import { useDisplayOfStep } from './looking.js'
import { Patch } from './patch.js'
import { Picker } from './picker.js'
import { Picture } from './picture.js'
import { usePlayback } from './playback.js'
import { Range } from './range.js'
import { Region } from './region.js'
import { usePatches, useResults } from './results.js'
import { Said } from './said.js'
import { Search } from './search.js'
import { candidatePicked, connection, plate, STEPS, type StepName, shotName, state, step } from './state.js'
import { Strip } from './strip.js'
import { fault, targets } from './target-range.js'
import { Brightness, Transport } from './transport.js'

export function App() {
  const name = shotName.value
  return (
    <>
      <Lost />
      {name !== null && plate.value ? <Shot name={name} about={plate.value} /> : <Picker />}
      <HelpDialog />
      <Closer />
    </>
  )
}

function Lost() {
  return (
    <div role="alert" class="lost-room">
      {connection.value === 'lost' ? (
        <p class="lost">
          The connection to the desk is lost; it is tried again. See whether its command still runs.
        </p>
      ) : null}
    </div>
  )
}

const PANELS: Readonly<Record<StepName, ComponentType>> = {
  region: Region,
  range: Range,
  search: Search,
  choose: Candidates,
  patch: Patch,
}

/** What each step is there for, in one line. */
const SAYS: Readonly<Record<'hide' | 'borrow', Readonly<Record<StepName, string>>>> = {
  hide: {
    region: 'Draw round what has to go',
    range: 'Say on which frames',
    search: 'Look for frames that can lend',
    choose: 'Choose what lends',
    patch: 'Write the patch',
  },
  borrow: {
    region: 'Draw where it has to fall',
    range: 'Say on which frames, and like what',
    search: 'Look for the moments',
    choose: 'Choose the moment',
    patch: 'Write the light',
  },
}

function Shot({ name, about }: { name: string; about: PlateAbout }) {
  usePlayback()
  useDisplayOfStep()
  useResults()
  usePatches()
  useDecisions()
  useEffect(() => {
    document.title = `${name}, offcut desk`
    return () => {
      document.title = 'offcut desk'
    }
  }, [name])
  const heading = useRef<HTMLHeadingElement>(null)
  const isOpen = useRef(false)
  // The button that led here may be gone, and the focus with it. Where the desk opens the picture comes first: in a narrow window it
  // stands above the heading.
  useLayoutEffect(() => {
    if (document.activeElement === document.body) heading.current?.focus({ preventScroll: !isOpen.current })
    isOpen.current = true
  }, [step.value])
  const Panel = PANELS[step.value]
  const at = STEPS.indexOf(step.value)
  return (
    <div class="desk">
      <header class="desk-head">
        <h1>{name}</h1>
        <p class="note desk-about">{aboutPlate(about)}</p>
        <div class="buttons">
          <a class="as-button" href="#/">
            Other plates
          </a>
          <button
            type="button"
            onClick={() => {
              helping.value = true
            }}
          >
            Keys <kbd>?</kbd>
          </button>
        </div>
      </header>
      <main class="desk-main" aria-label="Plate">
        <Brightness />
        <Picture />
        <Transport />
        <Strip />
      </main>
      <aside class="panel-room" aria-label="Steps">
        <Steps />
        <div class="panel-step">
          <h2 ref={heading} tabIndex={-1}>
            {SAYS[state.value!.asked.aim][step.value]}
          </h2>
          <Said place="shot" />
          <Panel key={step.value} />
        </div>
        <Next at={at} />
      </aside>
    </div>
  )
}

/** "768 x 576, JPEG, 8 bit, srgb, 1001-1265". */
function aboutPlate({ width, height, format, bitDepth, encoding, frames, gaps }: PlateAbout): string {
  const runs: { first: number; last: number }[] = []
  let first = frames[0]
  for (const gap of gaps) {
    runs.push({ first, last: gap.first - 1 })
    first = gap.last + 1
  }
  runs.push({ first, last: frames[frames.length - 1] })
  const numbers = `frame${frames.length > 1 ? 's' : ''} ${printRuns(runs)}`
  return `${width} x ${height}, ${format}, ${bitDepth}, ${encoding}, ${numbers}`
}

/** Whether a step has what the next one needs. */
function isDone(which: StepName): boolean {
  const now = state.value!
  switch (which) {
    case 'region':
      return isDrawn(now.asked.region)
    case 'range':
      return targets.value.length > 0 && fault.value === null
    case 'search':
      return now.searches.some((each) => each.state === 'done')
    case 'choose':
      return candidatePicked.value !== null || now.searches.some(({ patches }) => patches.length > 0)
    case 'patch':
      return now.searches.some(({ patches }) => patches.some((each) => each.state === 'done'))
  }
}

function Steps() {
  return (
    <nav aria-label="Steps" class="steps">
      <ol>
        {STEPS.map((which, i) => (
          <li key={which}>
            <button
              type="button"
              aria-current={step.value === which ? 'step' : undefined}
              class={isDone(which) ? 'done' : ''}
              onClick={() => {
                step.value = which
              }}
            >
              <span class="step-number" aria-hidden="true">
                {isDone(which) ? '✓' : i + 1}
              </span>
              {STEP_NAMES[i]}
              {isDone(which) ? <span class="unseen">, done</span> : null}
            </button>
          </li>
        ))}
      </ol>
    </nav>
  )
}

/** The way on, once there is something to go on with. */
function Next({ at }: { at: number }) {
  if (at > 1 || !isDone(STEPS[at])) return null
  return (
    <button
      type="button"
      class="main next"
      onClick={() => {
        step.value = STEPS[at + 1]
      }}
    >
      Next: {SAYS[state.value!.asked.aim][STEPS[at + 1]].replace(/^./, (c) => c.toLowerCase())}
    </button>
  )
}
