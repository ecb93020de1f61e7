// What a page has to say when it comes, the answer to a form above all, is
// brought in once more: who listens hears only what changes.
(function () {
  "use strict";
  setTimeout(() => {
    for (const part of document.querySelectorAll("main [role=status], main [role=alert]")) {
      if (part.textContent && !part.contains(document.activeElement)) part.append(...part.childNodes);
    }
  }, 300);
})();
