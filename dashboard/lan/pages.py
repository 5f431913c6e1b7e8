"""The pages of the door, as whole HTML documents that need none of the dashboard's scripts."""

from __future__ import annotations

from html import escape

_FRAME = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex">
<title>{title} · Dryfit</title>
<script src="/assets/theme.js"></script>
<link rel="icon" type="image/svg+xml" href="/assets/favicon.svg">
<link rel="stylesheet" href="/assets/bench.css">
<link rel="stylesheet" href="/assets/lan.css">
</head>
<body>
<header class="rule"><div class="top"><span class="shop">Dryfit</span>
<button id="theme-toggle" type="button" class="toggle" aria-label="Switch between daylight and dark"><span
 class="to-light">Daylight</span><span class="to-dark">Dark</span></button></div></header>
<main class="door">
<h1>{title}</h1>
{content}
</main>
</body>
</html>
"""


def sign_in(then: str, problem: str = "") -> str:
    """Asks for the passphrase, and says what was wrong with the last one; `then` is the page to go to."""
    told = f'<p id="problem" class="notice problem" role="alert">{escape(problem)}</p>' if problem else ""
    described = ' aria-invalid="true" aria-describedby="problem"' if problem else ""
    return _page(
        "Sign in",
        f"""{told}
<form method="post" action="/login">
<input type="hidden" name="next" value="{escape(then)}">
<label for="passphrase">Passphrase</label>
<input id="passphrase" name="passphrase" type="password" autocomplete="current-password" required autofocus
 autocapitalize="none" spellcheck="false"{described}>
<button type="submit">Sign in</button>
</form>
<p class="aside">The passphrase is the one chosen where the dashboard was started. If you are there, you
can also scan the code shown there.</p>""",
    )


def enter(token: str, days: int) -> str:
    """Lets this device in by the one-time link, at a press of the button, for that many days."""
    return _page(
        "Let this device in",
        f"""<p>It stays signed in for {days} days, or until you sign out. The link is then used up.</p>
<form method="post" action="/enter">
<input type="hidden" name="token" value="{escape(token)}">
<button type="submit" autofocus>Open the dashboard</button>
</form>""",
    )


def link_is_over() -> str:
    """What a used, old or wrong link leads to."""
    return _page(
        "This link is over",
        """<p role="alert">It was used already, is older than ten minutes, or was followed by a newer one.</p>
<p>Ask for another where the dashboard was started,
or <a href="/login">sign in with the passphrase</a>.</p>""",
    )


def sign_out() -> str:
    """Asks before signing this device out."""
    return _page(
        "Sign out",
        """<p>This device then needs the passphrase again. The others stay signed in.</p>
<form method="post" action="/logout">
<button type="submit">Sign out</button>
</form>
<p><a href="/">Back to the dashboard</a></p>""",
    )


def a_while(seconds: int) -> str:
    """A time to wait in words, rounded up."""
    number, unit = (seconds, "second") if seconds < 100 else (-(-seconds // 60), "minute")
    return f"{number} {unit}{'s' if number != 1 else ''}"


def _page(title: str, content: str) -> str:
    return _FRAME.format(title=title, content=content)
