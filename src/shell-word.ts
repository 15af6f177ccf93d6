// One word of a command as it is typed: what is printed to be copied must run as it stands.

/** A word for a POSIX shell, in quotation marks where it holds more than letters, figures and signs of paths. */
export function shellWord(text: string): string {
  return /^[\w@%+=:,./-]+$/.test(text) ? text : `'${text.replaceAll("'", "'\\''")}'`
}
