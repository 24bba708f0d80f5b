/** Names that tell files apart. */

/** Of each path its name, with as many of the folders before it as tell it from the others. */
export function apart(paths: readonly string[]): string[] {
  const parts = paths.map(path => path.split('/'));
  const tail = (of: readonly string[], count: number) => of.slice(-count).join('/');
  return parts.map((own, i) => {
    for (let count = 1; count < own.length; count++) {
      const name = tail(own, count);
      if (!parts.some((other, k) => k !== i && tail(other, count) === name)) {
        return name;
      }
    }
    return own.join('/');
  });
}
