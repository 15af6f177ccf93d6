// The list of keys.
import { useLayoutEffect, useRef } from 'preact/hooks'
import { singleKeys } from './single-keys.js'

export interface KeyList {
  readonly name: string
  readonly keys: readonly { shown: string; does: string }[]
}

export function Help({ lists, onClose }: { lists: readonly KeyList[]; onClose: () => void }) {
  const close = useRef<HTMLButtonElement>(null)
  useLayoutEffect(() => close.current?.focus(), [])
  return (
    <section
      class="help"
      aria-labelledby="help-name"
      onKeyDown={(event) => {
        if (event.key !== 'Escape' && event.key !== '?') return
        event.preventDefault()
        event.stopPropagation()
        onClose()
      }}
    >
      <header>
        <h2 id="help-name">Keys</h2>
        <button type="button" ref={close} onClick={onClose}>
          Close <kbd>Esc</kbd>
        </button>
      </header>
      <div class="help-lists">
        {lists.map((list) => (
          <List {...list} />
        ))}
      </div>
      <label class="tick">
        <input
          type="checkbox"
          checked={singleKeys.on}
          onChange={(event) => {
            singleKeys.on = event.currentTarget.checked
          }}
        />{' '}
        Letters and figures work as keys
      </label>
    </section>
  )
}

function List({ name, keys }: KeyList) {
  return (
    <section>
      <h3>{name}</h3>
      <dl>
        {keys.map(({ shown, does }) => (
          <div>
            <dt>
              <kbd>{shown}</kbd>
            </dt>
            <dd>{does}</dd>
          </div>
        ))}
      </dl>
    </section>
  )
}
