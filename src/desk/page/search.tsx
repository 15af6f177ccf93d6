// Step 3, search: what may lend, how it is looked for, the command that does the same, and how far it is.
import { useState } from 'preact/hooks'
import { KEEP, REACH_PX, SURROUND_PX } from '../../defaults.js'
import { api } from './api.js'
import { Command } from './command.js'
import { Choice, Num, Text, Tick } from './fields.js'
import { Matrix } from './matrix.js'
import { Offset } from './offset.js'
import { Said } from './said.js'
import { allSent, ask, attempt, opened, search, searchPicked, shotName, state, step, told } from './state.js'

export function Search() {
  const running = state.value!.searches.find((each) => each.state === 'running')
  return (
    <>
      <Start />
      {running ? <Progress /> : null}
      {search.value?.state === 'failed' ? (
        <p class="trouble" role="alert">
          {search.value.message ?? 'The search failed.'}
        </p>
      ) : null}
      <Said place="search" />
      <Matrix />
      <Options />
      <Command
        command={running?.command ?? opened.value?.command ?? null}
        name={running ? 'The command that runs' : 'The command that searches the same'}
      />
    </>
  )
}

function Start() {
  const [busy, setBusy] = useState(false)
  const { searches } = state.value!
  const missing = opened.value?.missing ?? null
  const last = searches[searches.length - 1]
  const name = shotName.value!
  const start = async () => {
    setBusy(true)
    // What was typed last counts.
    await allSent()
    const answer = await attempt('search', () => api.search(name))
    setBusy(false)
    if (answer) searchPicked.value = answer.folder
  }
  const choose = () => {
    step.value = 'choose'
  }
  if (last?.state === 'running') {
    return (
      <div class="line">
        <button type="button" class="main" onClick={() => attempt('search', () => api.stopSearch(name))}>
          Stop
        </button>
        <button type="button" onClick={choose}>
          See what it found so far
        </button>
      </div>
    )
  }
  const word = last?.state === 'stopped' ? 'Resume' : last ? 'Search again' : 'Search'
  return (
    <div class="line">
      {last?.state === 'done' ? (
        <button type="button" class="main" onClick={choose}>
          See what it found
        </button>
      ) : null}
      <button
        type="button"
        class={last?.state === 'done' ? undefined : 'main'}
        disabled={missing !== null || busy}
        onClick={start}
      >
        {word}
      </button>
      {missing ? <p>{sentence(missing)}</p> : null}
      {last?.state === 'stopped' ? <p class="note">What was read is kept: it goes on from there.</p> : null}
    </div>
  )
}

function sentence(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}${/[.!?]$/.test(text) ? '' : '.'}`
}

export function Progress() {
  const { phase, done = 0, total = 0, read, ofRead, candidates } = told.value
  return (
    <div class="progress">
      <p role="status">{phase ? `${phase}, ${done} of ${total}` : 'Starting'}</p>
      <progress max={Math.max(1, total)} value={done} aria-label="Search" />
      {read !== undefined && candidates ? (
        <p class="note">
          {candidates.length === 0 ? 'Nothing to rank yet' : `${candidates.length} ranked`}, from {read} of{' '}
          {ofRead} frames; the order settles as more are read.
        </p>
      ) : null}
    </div>
  )
}

function Options() {
  const { asked } = state.value!
  const change = (values: Parameters<typeof ask>[0], run: string | null = null) => ask(values, run, 'search')
  const borrow = asked.aim === 'borrow'
  return (
    <details class="options">
      <summary>Options</summary>
      <div class="options-in">
        {borrow ? (
          <>
            <Choice
              legend="Look for"
              value={asked.sign}
              options={[
                [null, 'Both'],
                ['darker', 'Shadows'],
                ['brighter', 'Reflections'],
              ]}
              onPick={(sign) => change({ sign })}
            />
            <Offset />
          </>
        ) : null}
        <List
          name="Other plates that may lend"
          one="Another plate"
          values={asked.donors}
          placeholder="another take’s folder"
          onChange={(donors) => change({ donors })}
        />
        <Text
          label="Only these frames may lend"
          wide
          value={asked.donorFrames}
          placeholder="all"
          onCommit={(donorFrames) => change({ donorFrames })}
        />
        <Text
          label="These frames may not"
          wide
          value={asked.notFrames}
          placeholder="none"
          onCommit={(notFrames) => change({ notFrames })}
        />
        {borrow ? null : (
          <List
            name="List these whatever comes of them"
            one="A candidate to try"
            values={asked.tries}
            placeholder="hold-1215, run+46"
            onChange={(tries) => change({ tries })}
          />
        )}
        <div class="two">
          <Num
            label="Grow the region"
            unit="px"
            whole
            value={asked.grow}
            placeholder="0"
            onCommit={(grow) => change({ grow }, 'grow')}
          />
          <Num
            label="Surround"
            unit="px"
            whole
            value={asked.surround}
            placeholder={String(SURROUND_PX)}
            onCommit={(surround) =>
              change({ surround: surround !== null && surround < 1 ? null : surround }, 'surround')
            }
          />
          <Num
            label="Reach"
            unit="px"
            whole
            disabled={asked.reach === 'anywhere'}
            value={asked.reach === 'anywhere' ? null : asked.reach}
            placeholder={asked.reach === 'anywhere' ? 'anywhere' : String(REACH_PX)}
            onCommit={(reach) => change({ reach: reach !== null && reach < 0 ? null : reach }, 'reach')}
          />
          <Num
            label="Keep the best"
            whole
            value={asked.keep}
            placeholder={String(KEEP)}
            onCommit={(keep) => change({ keep: keep !== null && keep < 1 ? null : keep }, 'keep')}
          />
        </div>
        {borrow ? null : (
          <Tick
            label="Look anywhere in the frame"
            note="Also other places that look alike, such as the next window."
            checked={asked.reach === 'anywhere'}
            onChange={(anywhere) => change({ reach: anywhere ? 'anywhere' : null })}
          />
        )}
      </div>
    </details>
  )
}

function List(props: {
  name: string
  one: string
  values: readonly string[]
  placeholder: string
  onChange: (values: string[]) => void
}) {
  const { name, one, values, placeholder, onChange } = props
  return (
    <fieldset class="list">
      <legend>{name}</legend>
      <ul>
        {values.map((value, i) => (
          <li key={value}>
            <span>{value}</span>
            <button
              type="button"
              class="small"
              aria-label={`Remove ${value}`}
              onClick={() => onChange(values.filter((_, at) => at !== i))}
            >
              Remove
            </button>
          </li>
        ))}
      </ul>
      <Text
        key={values.length}
        label={one}
        wide
        value=""
        placeholder={placeholder}
        onCommit={(value) => {
          if (value !== '' && !values.includes(value)) onChange([...values, value])
        }}
      />
    </fieldset>
  )
}
