// What went wrong, said where it was tried.
import { trouble, troubles } from './state.js'

export function Said({ place }: { place: string }) {
  const message = troubles.value.get(place)
  return (
    <div role="alert">
      {message ? (
        <p class="trouble">
          {message}{' '}
          <button type="button" class="small" onClick={() => trouble(place, null)}>
            Close
          </button>
        </p>
      ) : null}
    </div>
  )
}
