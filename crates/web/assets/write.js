// A number ready to be typed without another tap, where the page was asked for one.
if (location.hash === "#form") document.querySelector("#form [name=amount]")?.focus();
