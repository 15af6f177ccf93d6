// Fields that keep what is being typed: what another page changes meanwhile does not tear it from under the hand.
import { useId, useRef, useState } from 'preact/hooks'

interface TextProps {
  readonly label: string
  readonly value: string
  readonly placeholder?: string
  readonly note?: string
  readonly wide?: boolean
  readonly unit?: string
  readonly numeric?: boolean
  readonly disabled?: boolean
  readonly onCommit: (value: string) => void
  /** Arrow keys up and down, of a number. */
  readonly onStep?: (by: number) => void
}

export function Text(props: TextProps) {
  const { label, value, placeholder, note, wide, unit, numeric, disabled, onCommit, onStep } = props
  const [draft, setDraft] = useState<string | null>(null)
  const taken = useRef<string | null>(null)
  const id = useId()
  const commit = () => {
    if (draft !== null && draft !== taken.current && draft.trim() !== value) onCommit(draft.trim())
    taken.current = draft
  }
  return (
    <div class={`field ${wide ? 'field-wide' : ''}`}>
      <label for={id}>{label}</label>
      <span class="field-value">
        <input
          id={id}
          type="text"
          autocomplete="off"
          spellcheck={false}
          {...(numeric ? { inputMode: 'decimal' as const } : {})}
          {...(note ? { 'aria-describedby': `${id}-note` } : {})}
          disabled={disabled}
          placeholder={placeholder}
          value={draft ?? value}
          onInput={(event) => setDraft(event.currentTarget.value)}
          onBlur={() => {
            commit()
            setDraft(null)
            taken.current = null
          }}
          onKeyDown={(event) => {
            if (event.key === 'Enter') commit()
            if (event.key === 'Escape') setDraft(null)
            if (onStep && (event.key === 'ArrowUp' || event.key === 'ArrowDown')) {
              event.preventDefault()
              setDraft(null)
              onStep((event.key === 'ArrowUp' ? 1 : -1) * (event.shiftKey ? 10 : 1))
            }
          }}
        />
        {unit ? <span class="field-unit">{unit}</span> : null}
      </span>
      {note ? (
        <p class="note" id={`${id}-note`}>
          {note}
        </p>
      ) : null}
    </div>
  )
}

interface NumberProps extends Omit<TextProps, 'value' | 'onCommit' | 'onStep' | 'numeric'> {
  /** Null: as it is taken by itself. */
  readonly value: number | null
  /** Whole numbers alone. */
  readonly whole?: boolean
  readonly step?: number
  readonly onCommit: (value: number | null) => void
}

export function Num({ value, whole, step = 1, onCommit, ...rest }: NumberProps) {
  const [wrong, setWrong] = useState(false)
  return (
    <Text
      {...rest}
      numeric
      note={wrong ? `${rest.label} takes a ${whole ? 'whole number' : 'number'}` : (rest.note ?? '')}
      value={value === null ? '' : String(Math.round(value * 1000) / 1000)}
      onCommit={(text) => {
        const number = text === '' ? null : Number(text.replace('−', '-').replace(',', '.'))
        const good = number === null || (Number.isFinite(number) && (!whole || Number.isInteger(number)))
        setWrong(!good)
        if (good) onCommit(number)
      }}
      onStep={(by) => {
        setWrong(false)
        onCommit((value ?? 0) + by * step)
      }}
    />
  )
}

export function Tick(props: {
  label: string
  checked: boolean
  note?: string
  disabled?: boolean
  onChange: (checked: boolean) => void
}) {
  const { label, checked, note, disabled, onChange } = props
  const id = useId()
  return (
    <div class="tick">
      <label>
        <input
          type="checkbox"
          checked={checked}
          disabled={disabled}
          {...(note ? { 'aria-describedby': id } : {})}
          onChange={() => onChange(!checked)}
        />{' '}
        {label}
      </label>
      {note ? (
        <p class="note" id={id}>
          {note}
        </p>
      ) : null}
    </div>
  )
}

/** One of a few, as buttons side by side. */
export function Choice<T extends string | null>(props: {
  legend: string
  value: T
  options: readonly (readonly [value: T, label: string])[]
  hidden?: boolean
  onPick: (value: T) => void
}) {
  const { legend, value, options, hidden, onPick } = props
  return (
    <fieldset class="choice">
      <legend class={hidden ? 'unseen' : ''}>{legend}</legend>
      <div class="buttons">
        {options.map(([each, label]) => (
          <button type="button" key={label} aria-pressed={each === value} onClick={() => onPick(each)}>
            {label}
          </button>
        ))}
      </div>
    </fieldset>
  )
}

export function Slider(props: {
  label: string
  value: number
  shown: string
  min: number
  max: number
  step: number
  onInput: (value: number) => void
}) {
  const { label, shown, onInput, ...range } = props
  return (
    <label class="slide">
      <span>{label}</span>
      <input
        type="range"
        {...range}
        aria-valuetext={shown}
        onInput={(event) => onInput(Number(event.currentTarget.value))}
        onDblClick={() => onInput(label === 'Gamma' ? 1 : 0)}
      />
      <output>{shown}</output>
    </label>
  )
}
