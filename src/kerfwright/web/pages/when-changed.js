/* Does something again only when what it reads is not as it was: then(reads) is given it. */

export function whenChanged(then) {
  let known = null;
  return (reads) => {
    const print = JSON.stringify(reads);
    if (print === known) return;
    then(reads);
    known = print;
  };
}
