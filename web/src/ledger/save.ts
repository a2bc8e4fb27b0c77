// A file made on the page itself, into the browser's downloads.
/** @return what to say about it */
export function saveAs(name: string, content: Blob): string {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(content);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  return `${name} is in your downloads.`;
}
