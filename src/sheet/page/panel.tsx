// What stands beside the picture of looking closer: views, display, decision.
import { stands } from '../data/decided-text.js'
import { type Choice, DECISION_WORDS, type Decision, NOTE_LENGTH } from '../data/decisions.js'
import { plain } from '../data/measures.js'
import { EXPOSURE, GAINS, GAMMA, type Look, stepped, VIEWS, ZOOMS } from './look.js'

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

export function Display({ look, change }: { look: Look; change: Change }) {
  const zoom = look.zoom === 0 ? 'fits' : `${look.zoom}×`
  return (
    <fieldset class="display">
      <legend>Display</legend>
      <div class="zoom">
        <span>Zoom</span>
        <button
          type="button"
          aria-label="Further away"
          onClick={() => change({ zoom: look.zoom <= 1 ? 0 : stepped(ZOOMS, look.zoom, -1) })}
        >
          −
        </button>
        <output>{zoom}</output>
        <button
          type="button"
          aria-label="Closer"
          onClick={() => change({ zoom: stepped(ZOOMS, look.zoom, 1) })}
        >
          +
        </button>
        <button type="button" onClick={() => change({ zoom: 0 })}>
          Fit
        </button>
      </div>
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
