/** @param out below node_modules, so that packages resolve; @param entryPoints beside all of src/ */
export function transpile(
  out: string,
  entryPoints?: readonly string[],
  options?: { readonly sourcemap?: 'inline' },
): Promise<void>
