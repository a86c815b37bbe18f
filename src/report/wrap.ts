/** Text broken into lines of at most `width` letters, every line but the first indented. */
export const wrap = (text: string, width: number, indent: string): string => {
  const lines: string[] = [''];
  for (const word of text.split(' ')) {
    const last = lines[lines.length - 1] as string;
    if (last && last.length + word.length + 1 > width) lines.push(word);
    else lines[lines.length - 1] = last ? `${last} ${word}` : word;
  }
  return lines.join(`\n${indent}`);
};
