// What stands beside the picture of looking closer: views, display, decision.
import { stands } from '../../data/decided-text.js'
import { DECISION_WORDS, NOTE_LENGTH } from '../../data/decision-words.js'
import type { Choice, Decision } from '../../data/decisions.js'
import { plain } from '../../data/measures.js'
import { EXPOSURE, GAINS, GAMMA, type Look, VIEWS } from './look.js'

export type Change = (step: Partial<Look>) => void

export function Views({ look, change }: { look: Look; change: Change }) {
  return (
    <fieldset class="views">
      <legend>View</legend>
      <div class="buttons">
        {VIEWS.map(({ view, name }, i) => (
          <button
            type="button"
            aria-pressed={look.view === view}
            aria-keyshortcuts={String(i + 1)}
            onClick={() => change({ view, flipped: true })}
          >
            {name}
          </button>
        ))}
      </div>
      <p class="note">{VIEW_NOTES[look.view]}</p>
      {look.view === 'wipe' ? (
        <Slider
          name="Wipe"
          shown={`${Math.round(100 * look.wipe)} %`}
          {...{ min: 0, max: 1, step: 0.01, value: look.wipe }}
          onInput={(wipe) => change({ wipe })}
        />
      ) : null}
    </fieldset>
  )
}

const VIEW_NOTES: Readonly<Record<Look['view'], string>> = {
  repaired: 'What the patch makes.',
  target: 'As shot.',
  wipe: 'Target on the left, repaired on the right. Drag the edge.',
  flip: 'Target and repaired in turn.',
  lent: 'The donor with its light matched, as far as it was carried along.',
  difference: 'Lent minus target. Mid grey is no difference, lighter is lighter.',
}

/** How the picture is shown. @param zoomBy a step closer or further away */
export function Display(props: {
  look: Look
  change: Change
  zoomBy: (by: 1 | -1) => void
  /** absent where there are no whole frames */
  onWhole?: (whole: boolean) => void
}) {
  const { look, change, zoomBy, onWhole } = props
  return (
    <fieldset class="display">
      <legend>Display</legend>
      <div class="zoom">
        <span>Zoom</span>
        <button type="button" aria-label="Further away" onClick={() => zoomBy(-1)}>
          −
        </button>
        <output>{zoomText(look.zoom)}</output>
        <button type="button" aria-label="Closer" onClick={() => zoomBy(1)}>
          +
        </button>
        <button type="button" onClick={() => change({ zoom: 0, centre: null })}>
          Fit
        </button>
      </div>
      {onWhole ? (
        <label class="tick">
          <input type="checkbox" checked={look.whole} onChange={() => onWhole(!look.whole)} /> Whole frame
        </label>
      ) : null}
      <Slider
        name="Exposure"
        shown={`${plain(look.exposure, 1, true)} stops`}
        {...{ min: EXPOSURE.least, max: EXPOSURE.most, step: EXPOSURE.step, value: look.exposure }}
        onInput={(exposure) => change({ exposure: Math.abs(exposure) < 0.01 ? 0 : exposure })}
      />
      <Slider
        name="Gamma"
        shown={plain(look.gamma, 1)}
        {...{ min: GAMMA.least, max: GAMMA.most, step: GAMMA.step, value: look.gamma }}
        onInput={(gamma) => change({ gamma })}
      />
      <Slider
        name="Difference"
        shown={`×${look.gain}`}
        {...{
          min: 0,
          max: GAINS.length - 1,
          step: 1,
          value: GAINS.indexOf(look.gain as (typeof GAINS)[number]),
        }}
        onInput={(index) => change({ gain: GAINS[index] })}
      />
      <label class="tick">
        <input
          type="checkbox"
          checked={look.outlined}
          onChange={() => change({ outlined: !look.outlined })}
        />{' '}
        Outline of the mask
      </label>
    </fieldset>
  )
}

/** "fits", "3×", "1/4". */
function zoomText(zoom: number): string {
  if (zoom === 0) return 'fits'
  return zoom < 1 ? `1/${Math.round(1 / zoom)}` : `${zoom}×`
}

function Slider(props: {
  name: string
  shown: string
  min: number
  max: number
  step: number
  value: number
  onInput: (value: number) => void
}) {
  const { name, shown, onInput, ...range } = props
  return (
    <label class="slider">
      <span>{name}</span>
      <input
        type="range"
        {...range}
        aria-label={name}
        aria-valuetext={shown}
        onInput={(event) => onInput(Number(event.currentTarget.value))}
      />
      <output>{shown}</output>
    </label>
  )
}

export function DecideHere(props: {
  candidate: string
  decision: Decision | undefined
  note: string
  onChoose: (choice: Choice) => void
  onNote: (note: string) => void
}) {
  const { candidate, decision, note, onChoose, onNote } = props
  return (
    <fieldset class="choose">
      <legend>Decide</legend>
      <div class="buttons">
        {(Object.keys(DECISION_WORDS) as Choice[]).map((choice) => (
          <button type="button" aria-pressed={decision?.decision === choice} onClick={() => onChoose(choice)}>
            {DECISION_WORDS[choice].replace(/^./, (c) => c.toUpperCase())}
          </button>
        ))}
      </div>
      <p class="signed" role="status">
        {stands(candidate, decision)}
      </p>
      <input
        type="text"
        id="closer-note"
        aria-label="Note"
        placeholder="Note"
        maxLength={NOTE_LENGTH}
        autocomplete="off"
        value={note}
        onChange={(event) => onNote(event.currentTarget.value)}
      />
    </fieldset>
  )
}
