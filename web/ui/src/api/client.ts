// The page's one way to the server. Paths, bodies and answers are checked
// against the types generated from the server's own description.
import type { paths } from "./schema";

type Method = "get" | "put" | "post" | "delete";
type Operation<P extends keyof paths, M extends Method> = paths[P][M];
type BodyOf<O> = O extends { requestBody: { content: { "application/json": infer B } } } ? B : undefined;
type AnswerOf<O> = O extends { responses: { 200: { content: { "application/json": infer A } } } } ? A : void;

/** What went wrong, in words for people. */
export class Refusal extends Error {
  constructor(readonly status: number, message: string) {
    super(message);
  }
}

export async function call<P extends keyof paths, M extends Method>(
  method: M,
  path: P,
  options: { body?: BodyOf<Operation<P, M>>; name?: string; signal?: AbortSignal } = {},
): Promise<AnswerOf<Operation<P, M>>> {
  const address = (path as string).replace("{name}", encodeURIComponent(options.name ?? ""));
  let answer: Response;
  try {
    answer = await fetch("." + address, {
      method: method.toUpperCase(),
      ...(options.body === undefined
        ? {}
        : { body: JSON.stringify(options.body), headers: { "Content-Type": "application/json" } }),
      ...(options.signal ? { signal: options.signal } : {}),
    });
  } catch (fault) {
    if (fault instanceof DOMException && fault.name === "AbortError") throw fault;
    throw new Refusal(0, "The server does not answer. Is it still running?");
  }
  if (!answer.ok) throw new Refusal(answer.status, await wordsOf(answer));
  return (await answer.json()) as AnswerOf<Operation<P, M>>;
}

/** Takes the words out of a refused answer. */
export async function wordsOf(answer: Response): Promise<string> {
  const text = await answer.text();
  try {
    const said = JSON.parse(text) as { detail?: string; title?: string };
    return said.detail ?? said.title ?? `The server answered ${answer.status}.`;
  } catch {
    return text.trim() || `The server answered ${answer.status}.`;
  }
}
