// Step 5, patch: how it is written, seen on the frame before it is, and the files to hand over.
import { useSignal, useSignalEffect } from '@preact/signals'
import { FADE_FRAMES, FEATHER_PX, STRENGTH } from '../../defaults.js'
import { capital, inWords } from '../../sheet/data/words.js'
import type { PatchAsked, Run, SearchRun } from '../shot-state.js'
import { api, fileAddress } from './api.js'
import { Command } from './command.js'
import { Choice, Num, Tick } from './fields.js'
import { display, show } from './looking.js'
import { Nudge } from './nudge.js'
import { warningsOfPatch } from './results.js'
import { Said } from './said.js'
import { allSent, askPatch, attempt, candidate, live, search, shotName, state, step } from './state.js'
import { Warned } from './warned.js'

export function Patch() {
  const pick = candidate.value
  const run = search.value
  if (!pick || run?.state !== 'done') {
    return (
      <>
        <p>{run?.state === 'running' ? 'The search is not done yet.' : 'No candidate is chosen yet.'}</p>
        <button
          type="button"
          class="main"
          onClick={() => {
            step.value = run ? 'choose' : 'search'
          }}
        >
          {run ? 'Go to the candidates' : 'Go to the search'}
        </button>
      </>
    )
  }
  return (
    <>
      <p>
        <b>{capital(inWords(pick))}</b>, {pick.id}
      </p>
      <Write run={run} id={pick.id} />
      <Said place="patch" />
      <WrittenPatches run={run} />
      <Settings borrow={state.value!.asked.aim === 'borrow'} />
      <NextCommand run={run} id={pick.id} />
    </>
  )
}

function Write({ run, id }: { run: SearchRun; id: string }) {
  const running = run.patches.find((each) => each.state === 'running')
  const name = shotName.value!
  const told = running ? live.value.get(running.folder) : undefined
  return (
    <>
      <div class="line">
        {running ? (
          <button
            type="button"
            class="main"
            onClick={() => attempt('patch', () => api.stopPatch(name, run.folder))}
          >
            Stop
          </button>
        ) : (
          <button
            type="button"
            class="main"
            onClick={() =>
              attempt('patch', async () => {
                await allSent()
                await api.patch(name, run.folder, id)
              })
            }
          >
            Write the patch
          </button>
        )}
        <button
          type="button"
          aria-pressed={display.value === 'patched'}
          onClick={() => show(display.value === 'patched' ? 'shot' : 'patched')}
        >
          See it on the frame <kbd>X</kbd>
        </button>
      </div>
      {running ? (
        <div class="progress">
          <p role="status">
            {told?.phase ? `${told.phase}, ${told.done} of ${told.total}` : `Writing ${running.folder}`}
          </p>
          <progress max={Math.max(1, told?.total ?? 1)} value={told?.done ?? 0} aria-label="Patch" />
        </div>
      ) : null}
    </>
  )
}

function Settings({ borrow }: { borrow: boolean }) {
  const { patch } = state.value!
  return (
    <section aria-label="Settings of the patch" class="part">
      <Nudge />
      {borrow || patch.whole ? null : (
        <Choice
          legend="Format"
          value={patch.format}
          options={[
            ['exr', 'EXR'],
            ['png', 'PNG'],
            ['tif', 'TIFF'],
          ]}
          onPick={(format) => askPatch({ format })}
        />
      )}
      <Tick label="Whole repaired frames" checked={patch.whole} onChange={(whole) => askPatch({ whole })} />
      {borrow ? <Lift patch={patch} /> : <Border patch={patch} />}
    </section>
  )
}

function Border({ patch }: { patch: PatchAsked }) {
  return (
    <>
      <Num
        label="Feather"
        unit="px"
        whole
        value={patch.feather}
        placeholder={String(FEATHER_PX)}
        onCommit={(feather) => askPatch({ feather: feather !== null && feather < 0 ? null : feather })}
      />
      <Choice
        legend="It fades"
        value={patch.featherSide ?? 'outside'}
        options={[
          ['outside', 'Outside'],
          ['inside', 'Inside'],
          ['both', 'Both'],
        ]}
        onPick={(side) => askPatch({ featherSide: side === 'outside' ? null : side })}
      />
      <Tick
        label="Close a difference in light at the border"
        checked={patch.membrane}
        onChange={(membrane) => askPatch({ membrane })}
      />
      <Tick
        label="Put the plate’s grain back"
        checked={patch.regrain}
        onChange={(regrain) => askPatch({ regrain })}
      />
    </>
  )
}

function Lift({ patch }: { patch: PatchAsked }) {
  const [fadeIn, fadeOut] = patch.fade ?? [null, null]
  const fade = (a: number | null, b: number | null) =>
    askPatch({ fade: a === null && b === null ? null : [a ?? FADE_FRAMES, b ?? FADE_FRAMES] })
  return (
    <>
      <Num
        label="Strength"
        value={patch.strength}
        step={0.1}
        placeholder={String(STRENGTH)}
        onCommit={(strength) => askPatch({ strength: strength !== null && strength < 0 ? null : strength })}
      />
      <div class="two">
        <Num
          label="Fades in over"
          unit="frames"
          whole
          value={fadeIn}
          placeholder={String(FADE_FRAMES)}
          onCommit={(a) => fade(a, fadeOut)}
        />
        <Num
          label="Fades out over"
          unit="frames"
          whole
          value={fadeOut}
          placeholder={String(FADE_FRAMES)}
          onCommit={(b) => fade(fadeIn, b)}
        />
      </div>
    </>
  )
}

/** What would be written now; asked for anew whenever a setting was taken. */
function NextCommand({ run, id }: { run: SearchRun; id: string }) {
  const command = useSignal<string | null>(null)
  useSignalEffect(() => {
    const [name, now, pick, which] = [shotName.value, state.value, candidate.value, search.value]
    if (!name || !now || !pick || which?.state !== 'done') return
    void allSent()
      .then(() => api.patchCommand(name, which.folder, pick.id))
      .then(
        (answer) => {
          command.value = answer.command
        },
        () => {
          command.value = null
        },
      )
  })
  void [run, id]
  return <Command command={command.value} name="The command that writes the same" />
}

const HAND_OVER = [
  ['check.html', 'Check: target, patch and result of every frame'],
  ['patch.json', 'All numbers'],
  ['patch.csv', 'The numbers as a table'],
  ['patch.otio', 'The retime'],
] as const

/** The last one is what was just asked for: it stands beside the button, the earlier ones are folded. */
function WrittenPatches({ run }: { run: SearchRun }) {
  const [last, ...earlier] = run.patches.filter(({ state }) => state !== 'running').toReversed()
  if (!last) return null
  return (
    <section class="part" aria-labelledby="written-name">
      <h3 id="written-name">Written</h3>
      <ul class="written">
        <WrittenPatch patch={last} />
      </ul>
      {earlier.length > 0 ? (
        <details>
          <summary>{earlier.length} earlier</summary>
          <ul class="written">
            {earlier.map((each) => (
              <WrittenPatch patch={each} key={each.folder} />
            ))}
          </ul>
        </details>
      ) : null}
    </section>
  )
}

function WrittenPatch({ patch: { folder, state: how, message, command } }: { patch: Run }) {
  const name = shotName.value!
  return (
    <li>
      <p>
        <b>{folder}</b>, {how}
      </p>
      {message ? <p class="trouble">{message}</p> : null}
      <Warned warnings={warningsOfPatch(folder)} />
      {how === 'done' ? (
        <ul>
          {HAND_OVER.map(([file, says]) => (
            <li key={file}>
              <a href={fileAddress(name, `${folder}/${file}`)} target="_blank" rel="noreferrer">
                {file}
              </a>{' '}
              <span class="note">{says}</span>
            </li>
          ))}
        </ul>
      ) : null}
      <details>
        <summary>The command that wrote it</summary>
        <Command command={command} name="Its command" />
      </details>
    </li>
  )
}
