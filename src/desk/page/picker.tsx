// Without a shot: those worked on before, and the ways to another plate.
import { useSignal, useSignalEffect } from '@preact/signals'
import { useState } from 'preact/hooks'
import { count } from '../../sheet/data/words.js'
import type { FolderList, ShotSummary } from '../messages.js'
import { api } from './api.js'
import { Said } from './said.js'
import { attempt, shots } from './state.js'

async function open(plate: string): Promise<void> {
  const answer = await attempt('picker', () => api.open(plate))
  if (answer) location.hash = `/${encodeURIComponent(answer.name)}`
}

export function Picker() {
  const [path, setPath] = useState('')
  return (
    <main class="picker">
      <h1>Open a plate</h1>
      <form
        class="picker-path"
        onSubmit={(event) => {
          event.preventDefault()
          if (path.trim() !== '') void open(path.trim())
        }}
      >
        <label for="plate-path">A folder, one of its frames, a pattern or a movie</label>
        <span class="line">
          <input
            id="plate-path"
            type="text"
            autocomplete="off"
            spellcheck={false}
            placeholder="plates/quay or plates/quay/quay.####.exr"
            value={path}
            onInput={(event) => setPath(event.currentTarget.value)}
          />
          <button type="submit" class="main" disabled={path.trim() === ''}>
            Open
          </button>
        </span>
      </form>
      <Said place="picker" />
      <div class="picker-lists">
        <Recent />
        <Folders />
      </div>
    </main>
  )
}

function Recent() {
  const known = shots.value
  if (known === null || known.length === 0) return null
  return (
    <section aria-labelledby="recent-name">
      <h2 id="recent-name">Shots</h2>
      <ul class="entries">
        {known.map((shot) => (
          <li key={shot.name}>
            {shot.fault === undefined ? (
              <a class="entry" href={`#/${encodeURIComponent(shot.name)}`}>
                <b>{shot.name}</b>
                <span class="note">{aboutShot(shot)}</span>
              </a>
            ) : (
              <div class="entry entry-gone">
                <b>{shot.name}</b>
                <span class="note">{shot.fault}</span>
              </div>
            )}
          </li>
        ))}
      </ul>
    </section>
  )
}

function aboutShot({ plate, frames, searches, at }: ShotSummary): string {
  const done = [
    frames === '' ? 'no range yet' : frames,
    searches > 0 ? count(searches, 'search', 'searches') : '',
  ]
  return [plate, ...done.filter((text) => text !== ''), at.slice(0, 10)].join(', ')
}

function Folders() {
  const list = useSignal<FolderList | null>(null)
  const at = useSignal<string | null>(null)
  useSignalEffect(() => {
    const wanted = at.value
    void attempt('folders', () => api.folders(wanted)).then((answer) => {
      if (answer && at.peek() === wanted) list.value = answer
    })
  })
  const known = list.value
  if (!known) return <Said place="folders" />
  return (
    <section aria-labelledby="folders-name">
      <h2 id="folders-name">{known.at ?? 'Folders to look in'}</h2>
      {known.at !== null ? (
        <button
          type="button"
          onClick={() => {
            at.value = known.parent
          }}
        >
          One folder up
        </button>
      ) : null}
      <Said place="folders" />
      <ul class="entries">
        {known.plates.map(({ name, spec, frames }) => (
          <li key={spec}>
            <button type="button" class="entry" onClick={() => open(spec)}>
              <b>{name}</b>
              <span class="note">{frames === null ? 'movie' : count(frames, 'frame')}</span>
            </button>
          </li>
        ))}
        {known.folders.map(({ name, path }) => (
          <li key={path}>
            <button
              type="button"
              class="entry"
              onClick={() => {
                at.value = path
              }}
            >
              {name}/
            </button>
          </li>
        ))}
      </ul>
      {known.plates.length + known.folders.length === 0 ? <p class="note">No plates lie here.</p> : null}
    </section>
  )
}
