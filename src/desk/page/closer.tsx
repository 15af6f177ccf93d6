// Looking closer at what a search found: the sheet's own viewer over the page, with the pictures of its sheet.
import { signal } from '@preact/signals'
import { useLayoutEffect, useRef, useState } from 'preact/hooks'
import type { PageData } from '../../sheet/data/page-data.js'
import { filesOf, readData } from '../../sheet/page/sheet-files.js'
import { FrameStore } from '../../sheet/page/viewer/frame-store.js'
import { Help } from '../../sheet/page/viewer/help.js'
import { LOOK_KEYS } from '../../sheet/page/viewer/keys.js'
import { atWay, closed, type Look, START } from '../../sheet/page/viewer/look.js'
import { onLookKey, onLookKeyUp } from '../../sheet/page/viewer/look-key.js'
import { DecideHere } from '../../sheet/page/viewer/panel.js'
import { pictureIn, Viewer } from '../../sheet/page/viewer/viewer.js'
import { fileAddress, refusal } from './api.js'
import { canDecide, choose, decisionOf, noteOf, setNote } from './decisions-file.js'
import { attempt, candidatePicked, shotName } from './state.js'

interface Sheet {
  readonly of: string
  readonly data: PageData
  readonly store: FrameStore
}

/** The sheet that was read last, and the candidate that is looked at in it. */
const sheet = signal<Sheet | null>(null)
const asked = signal<string | null>(null)

/** @param folder of the search, done */
export async function lookCloser(folder: string, id: string): Promise<void> {
  const name = shotName.value
  if (name === null) return
  const of = `${name}/${folder}`
  if (sheet.value?.of !== of) {
    const read = await attempt('choose', () => readSheet(of, fileAddress(name, `${folder}/sheet.html`)))
    if (!read) return
    sheet.value = read
  }
  asked.value = id
}

async function readSheet(of: string, address: string): Promise<Sheet> {
  const response = await fetch(address)
  if (!response.ok) throw await refusal(response)
  // Parsed so, nothing of it runs and nothing is loaded; its style would be told to the console as refused by this page's policy.
  const text = (await response.text()).replace(/<style[^>]*>[^<]*<\/style>/g, '')
  const page = new DOMParser().parseFromString(text, 'text/html')
  const data = readData(page)
  return { of, data, store: new FrameStore(data, filesOf(data, page)) }
}

export function Closer() {
  const read = sheet.value
  return read ? <Dialog key={read.of} {...read} /> : null
}

const LISTS = [{ name: 'Looking closer', keys: LOOK_KEYS }]

function Dialog({ data, store }: Sheet) {
  const [look, setLook] = useState<Look>(START)
  const dialog = useRef<HTMLDialogElement>(null)
  const fit = useRef(1)
  const way = look.way === null ? null : data.ways[look.way]
  const visible = data.ways.map((_, i) => i)
  const change = (step: Partial<Look>) => setLook((now) => ({ ...now, ...step }))
  const toPicture = () => pictureIn(dialog.current!)?.focus()
  useLayoutEffect(() => {
    const index = data.ways.findIndex(({ id }) => id === asked.value)
    if (index >= 0) setLook((now) => atWay(now, data, index))
  }, [asked.value])
  useLayoutEffect(() => {
    if (look.way === null || dialog.current!.open) return
    dialog.current!.showModal()
    toPicture()
  }, [look.way])
  // What was in focus may have gone, and the keys with it.
  useLayoutEffect(() => {
    const at = document.activeElement
    if (dialog.current!.open && (!dialog.current!.contains(at) || at!.matches(':disabled'))) toPicture()
  })
  const close = () => {
    // The one that was looked at last is the one that is chosen.
    if (way) candidatePicked.value = way.id
    asked.value = null
    setLook(closed)
    dialog.current!.close()
  }
  return (
    <dialog
      class="closer viewer"
      ref={dialog}
      aria-labelledby="closer-name"
      onKeyDown={(event) => {
        if (look.help) {
          if (event.key !== 'Escape' && event.key !== '?') return
          change({ help: false })
          event.preventDefault()
          return
        }
        onLookKey(event, {
          setLook,
          around: () => ({ data, visible, fit: fit.current }),
          toPicture,
          help: () => change({ help: true }),
          choose: (choice) => way && choose(way.id, choice),
          note: () => dialog.current!.querySelector<HTMLElement>('#closer-note')?.focus(),
          close,
        })
      }}
      onKeyUp={(event) => {
        if (!look.help) onLookKeyUp(event)
      }}
      onCancel={(event) => {
        event.preventDefault()
        if (look.help) change({ help: false })
        else close()
      }}
    >
      {way ? (
        <>
          <Viewer
            {...{ look, setLook, data, store, visible }}
            onFit={(now) => {
              fit.current = now
            }}
            nameId="closer-name"
            buttons={
              <>
                <button type="button" onClick={() => change({ help: !look.help })}>
                  Keys <kbd>?</kbd>
                </button>
                <button type="button" onClick={close}>
                  Back <kbd>Esc</kbd>
                </button>
              </>
            }
          >
            {canDecide() ? (
              <DecideHere
                candidate={way.id}
                decision={decisionOf(way.id)}
                note={noteOf(way.id)}
                onChoose={(choice) => choose(way.id, choice)}
                onNote={(note) => setNote(way.id, note)}
              />
            ) : null}
          </Viewer>
          {look.help ? <Help lists={LISTS} onClose={() => change({ help: false })} /> : null}
        </>
      ) : null}
    </dialog>
  )
}
