// The list of keys, over the page.
import { useLayoutEffect, useRef } from 'preact/hooks'
import { singleKeys } from '../../sheet/page/viewer/single-keys.js'
import { helping, KEYS } from './keys.js'

export function HelpDialog() {
  const dialog = useRef<HTMLDialogElement>(null)
  const shown = helping.value
  useLayoutEffect(() => {
    if (shown) dialog.current!.showModal()
    else dialog.current!.close()
  }, [shown])
  return (
    <dialog
      class="help-dialog"
      ref={dialog}
      aria-labelledby="help-name"
      onClose={() => {
        helping.value = false
      }}
    >
      {shown ? (
        <div class="help">
          <header>
            <h2 id="help-name">Keys</h2>
            <button
              type="button"
              onClick={() => {
                helping.value = false
              }}
            >
              Close <kbd>Esc</kbd>
            </button>
          </header>
          <dl>
            {KEYS.map(({ shown: key, does }) => (
              <div key={key}>
                <dt>
                  <kbd>{key}</kbd>
                </dt>
                <dd>{does}</dd>
              </div>
            ))}
          </dl>
          <p class="note">
            A shape is moved by the arrow keys when its middle or a corner has the focus, by one pixel, with
            Shift by ten.
          </p>
          <label>
            <input
              type="checkbox"
              checked={singleKeys.on}
              onChange={(event) => {
                singleKeys.on = event.currentTarget.checked
              }}
            />{' '}
            Letters and figures work as keys
          </label>
        </div>
      ) : null}
    </dialog>
  )
}
