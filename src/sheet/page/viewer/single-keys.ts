// Whether single letters and figures act: whoever speaks to the machine must be able to turn them off (WCAG 2.2, 2.1.4).

export const singleKeys = { on: true }

/** Whether this key may act now. */
export function mayAct(key: string): boolean {
  return singleKeys.on || key.length > 1 || key === ' '
}
