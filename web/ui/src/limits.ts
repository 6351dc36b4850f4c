/** A limit's name in words, as the commands have it: "port:mouth". */
export function limitWords(limit: string): string {
  const [what, name] = limit.split(":");
  switch (what) {
    case "excursion":
      return `travel of ${name}`;
    case "stop":
      return `${name} strikes`;
    case "port":
      return `air speed in ${name}`;
    case "power":
      return `power of ${name}`;
    case "temperature":
      return `heat of ${name}`;
    case "amplifier":
      return "the amplifier";
    case "none":
      return "none known";
  }
  return limit;
}
