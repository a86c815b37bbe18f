/** A heap, least key first. Equal keys come out in an order that depends on the pushes alone. */
export class Heap<T> {
  readonly #items: T[] = [];
  readonly #keys: number[] = [];

  get size(): number {
    return this.#items.length;
  }

  get top(): T | undefined {
    return this.#items[0];
  }

  /** The least key; Infinity when empty. */
  get key(): number {
    return this.#keys[0] ?? Infinity;
  }

  push(item: T, key: number): void {
    let i = this.#items.push(item) - 1;
    this.#keys.push(key);
    while (i > 0) {
      const up = (i - 1) >> 1;
      if ((this.#keys[up] as number) <= key) break;
      this.#move(up, i);
      i = up;
    }
    this.#items[i] = item;
    this.#keys[i] = key;
  }

  pop(): T | undefined {
    const top = this.#items[0];
    const item = this.#items.pop();
    const key = this.#keys.pop();
    const n = this.#items.length;
    if (item === undefined || key === undefined || n === 0) return top;
    let i = 0;
    for (;;) {
      let next = 2 * i + 1;
      if (next >= n) break;
      if (next + 1 < n && (this.#keys[next + 1] as number) < (this.#keys[next] as number)) next++;
      if ((this.#keys[next] as number) >= key) break;
      this.#move(next, i);
      i = next;
    }
    this.#items[i] = item;
    this.#keys[i] = key;
    return top;
  }

  #move(from: number, to: number): void {
    this.#items[to] = this.#items[from] as T;
    this.#keys[to] = this.#keys[from] as number;
  }
}
