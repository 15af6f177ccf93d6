// Looking closer at one candidate: a dialog over the page, with the viewer in it.
import { useLayoutEffect, useRef, useState } from 'preact/hooks'
import type { Choice } from '../data/decisions.js'
import type { PageData } from '../data/page-data.js'
import type { Decided } from './decided.js'
import { ALL_KEYS } from './help-dialog.js'
import type { RowNotes } from './row-notes.js'
import type { FrameStore } from './viewer/frame-store.js'
import { Help } from './viewer/help.js'
import { atWay, closed, type Look, START } from './viewer/look.js'
import { onLookKey, onLookKeyUp } from './viewer/look-key.js'
import { DecideHere } from './viewer/panel.js'
import { pictureIn, Viewer } from './viewer/viewer.js'

export interface CloserProps {
  data: PageData
  store: FrameStore
  decided: Decided
  notes: RowNotes
  visible: () => readonly number[]
  /** lets the page open it: a candidate, and the view to begin with */
  bind: (open: (way: number, view?: Look['view']) => void) => void
  onClose: (way: number) => void
}

export function Closer({ data, store, decided, notes, visible, bind, onClose }: CloserProps) {
  const [look, setLook] = useState<Look>(START)
  const [, redraw] = useState(0)
  const dialog = useRef<HTMLDialogElement>(null)
  const change = (step: Partial<Look>) => setLook((now) => ({ ...now, ...step }))
  const way = look.way === null ? null : data.ways[look.way]

  // Before the first paint: a click may come right after it.
  useLayoutEffect(() => {
    bind((index, view) => setLook((now) => atWay(now, data, index, view)))
    decided.onChange(() => redraw((n) => n + 1))
  }, [])
  const toPicture = () => pictureIn(dialog.current!)?.focus()
  useLayoutEffect(() => {
    if (look.way === null || dialog.current!.open) return
    dialog.current!.showModal()
    // Else the first button would have the focus, which leads to another candidate.
    toPicture()
  }, [look.way])
  // What was in focus may have gone, or may not be pressed any more; the keys would go with it. Before the next paint: a key
  // may come right after.
  useLayoutEffect(() => {
    const at = document.activeElement
    if (dialog.current!.open && (!dialog.current!.contains(at) || at!.matches(':disabled'))) toPicture()
  })
  const fit = useRef(1)

  const close = () => {
    const last = look.way
    setLook(closed)
    dialog.current!.close()
    if (last !== null) onClose(last)
  }
  const choose = (choice: Choice) => {
    if (way) decided.choose(way.id, choice, notes.get(way.id))
  }
  const onKeyDown = (event: KeyboardEvent) => {
    if (look.help) {
      if (event.key !== 'Escape' && event.key !== '?') return
      change({ help: false })
      event.preventDefault()
      return
    }
    onLookKey(event, {
      setLook,
      around: () => ({ data, visible: visible(), fit: fit.current }),
      toPicture,
      help: () => change({ help: true }),
      choose,
      note: () => dialog.current!.querySelector<HTMLElement>('#closer-note')?.focus(),
      close,
    })
  }

  return (
    <dialog
      class="closer viewer"
      ref={dialog}
      aria-labelledby="closer-name"
      onKeyDown={onKeyDown}
      onKeyUp={(event) => {
        if (!look.help) onLookKeyUp(event)
      }}
      onClick={({ target, detail }) => {
        // Clicked, not pressed by a key: the next key is meant for the picture.
        if (detail > 0 && target instanceof Element && target.closest('button')) toPicture()
      }}
      onCancel={(event) => {
        event.preventDefault()
        if (look.help) change({ help: false })
        else close()
      }}
    >
      {way && look.way !== null ? (
        <>
          <Viewer
            {...{ look, setLook, data, store }}
            visible={visible()}
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
            <DecideHere
              candidate={`${look.way + 1}, ${way.words}`}
              decision={decided.get(way.id)}
              note={notes.get(way.id)}
              onChoose={choose}
              onNote={(note) => {
                notes.set(way.id, note)
                decided.note(way.id, note)
              }}
            />
          </Viewer>
          {look.help ? <Help lists={ALL_KEYS} onClose={() => change({ help: false })} /> : null}
        </>
      ) : null}
    </dialog>
  )
}
