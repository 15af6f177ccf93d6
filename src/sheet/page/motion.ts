// What moves by itself while looking closer: playing, flipping, and the decoding that runs ahead of both.
import { useEffect, useMemo } from 'preact/hooks'
import type { PageData } from '../data/page-data.js'
import type { FrameStore } from './data.js'
import { atFrame, FLIP_MS, type Look } from './look.js'

export function usePlaying(
  look: Look,
  data: PageData,
  store: FrameStore,
  setLook: (f: (now: Look) => Look) => void,
) {
  useEffect(() => {
    if (!look.playing || look.way === null) return
    const way = look.way
    let running = true
    let frame = look.frame
    let due = performance.now()
    const tick = async (time: number) => {
      if (!running) return
      if (time >= due) {
        const next = (frame + 1) % data.ways[way].frames.length
        // A frame that is not decoded yet holds the play up rather than being skipped.
        await store.scene(way, next)
        if (!running) return
        frame = next
        due = Math.max(due + 1000 / look.rate, time)
        setLook((now) => atFrame(now, data, next))
      }
      requestAnimationFrame(tick)
    }
    requestAnimationFrame(tick)
    return () => {
      running = false
    }
  }, [look.playing, look.way, look.rate])
}

export function useFlipping(look: Look, setLook: (f: (now: Look) => Look) => void) {
  const still = useMemo(() => matchMedia('(prefers-reduced-motion: reduce)'), [])
  useEffect(() => {
    if (look.view !== 'flip' || look.way === null || still.matches) return
    const timer = setInterval(() => setLook((now) => ({ ...now, flipped: !now.flipped })), FLIP_MS)
    return () => clearInterval(timer)
  }, [look.view, look.way, look.flipped])
}

export function useDecodingAhead(look: Look, data: PageData, store: FrameStore) {
  useEffect(() => {
    if (look.way === null) return
    const way = look.way
    let wanted = true
    const ahead = async () => {
      for (let i = 0; wanted && i < data.ways[way].frames.length; i++) await store.scene(way, i)
    }
    ahead()
    return () => {
      wanted = false
    }
  }, [look.way])
}
