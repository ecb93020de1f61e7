// What scripts say comes with the page, in its language.
"use strict";
const words = JSON.parse(document.getElementById("scriptwords").textContent);

// spoken is one of the page's sentences, with what is filled in.
function spoken(name, what) {
  return words[name].replace(/%(\[1\])?s/g, () => what);
}
