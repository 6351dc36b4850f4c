// Where files are chosen, or dropped.
import type { ComponentChildren } from "preact";

interface Props {
  label: string;
  accept?: string;
  multiple?: boolean;
  take: (files: File[]) => void;
  children: ComponentChildren;
}

export function Well({ label, accept, multiple, take, children }: Props) {
  return (
    <label class="well">
      <input
        type="file"
        class="hidden"
        aria-label={label}
        {...(accept ? { accept } : {})}
        {...(multiple ? { multiple } : {})}
        onChange={(e) => {
          const files = [...(e.currentTarget.files ?? [])];
          e.currentTarget.value = "";
          if (files.length > 0) take(files);
        }}
      />
      {children}
    </label>
  );
}
