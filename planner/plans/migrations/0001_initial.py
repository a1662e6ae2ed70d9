import django.db.models.deletion
import planner.trail.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('patients', '0001_initial'),
        ('practice', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Case',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('name', models.CharField(max_length=80)),
                ('numbering', models.CharField(default='iso', max_length=10)),
                ('notes', models.TextField(blank=True)),
                ('wishes', models.JSONField(default=list)),
                ('limits', models.JSONField(default=dict)),
                ('choices', models.JSONField(default=dict)),
                ('at', models.DateTimeField()),
                ('examination', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='cases', to='patients.examination')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='cases', to='patients.patient')),
            ],
            options={
                'ordering': ('patient', '-id'),
                'indexes': [models.Index(fields=['office', '-id'], name='case_by_office')],
                'constraints': [models.UniqueConstraint(fields=('patient', 'name'), name='case_name_once'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='case_named'), models.CheckConstraint(condition=models.Q(('numbering__in', ['iso', 'universal', 'palmer'])), name='case_numbering_known')],
            },
        ),
        migrations.CreateModel(
            name='CasePicture',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveSmallIntegerField()),
                ('case', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='case_pictures', to='plans.case')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('picture', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.picturereading')),
            ],
            options={
                'ordering': ('case', 'position'),
                'constraints': [models.UniqueConstraint(fields=('case', 'picture'), name='case_picture_once'), models.UniqueConstraint(fields=('case', 'position'), name='case_picture_position_once')],
            },
        ),
        migrations.CreateModel(
            name='FrozenPlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('content', models.BinaryField()),
                ('sha256', models.CharField(max_length=64)),
                ('facts_sha256', models.CharField(max_length=64)),
                ('deciding_sha256', models.CharField(max_length=64)),
                ('rules_sha256', models.CharField(max_length=64)),
                ('at', models.DateTimeField()),
                ('book', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.bookversion')),
                ('case', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='frozen_plans', to='plans.case')),
                ('examination', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.examination')),
                ('frozen_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('case', 'id'),
                'constraints': [models.UniqueConstraint(fields=('case', 'sha256'), name='frozen_once')],
            },
        ),
        migrations.CreateModel(
            name='Estimate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('number', models.PositiveIntegerField()),
                ('issue', models.PositiveSmallIntegerField(default=1)),
                ('state', models.CharField(choices=[('draft', 'Draft'), ('checked', 'Checked'), ('shown', 'Shown'), ('answered', 'Answered'), ('replaced', 'Replaced')], default='draft', max_length=10)),
                ('options', models.JSONField(default=list)),
                ('checked_at', models.DateTimeField(null=True)),
                ('valid_through', models.DateField(null=True)),
                ('shown_on', models.DateField(null=True)),
                ('answer', models.CharField(blank=True, choices=[('all of an option', 'All'), ('part of an option', 'Part'), ('none, thanks', 'None'), ('chose no treatment', 'No Treatment'), ('other place', 'Elsewhere')], max_length=20)),
                ('answered_on', models.DateField(null=True)),
                ('answered_by', models.CharField(blank=True, max_length=200)),
                ('answered_option', models.CharField(blank=True, max_length=200)),
                ('answer_words', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('book', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.bookversion')),
                ('case', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='estimates', to='plans.case')),
                ('checked_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('replaces', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='replaced_by', to='plans.estimate')),
                ('frozen', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='estimates', to='plans.frozenplan')),
            ],
            options={
                'ordering': ('-at', '-id'),
                'indexes': [models.Index(fields=['office', '-at', '-id'], name='estimate_newest'), models.Index(fields=['office', 'state', '-at', '-id'], name='estimate_by_state')],
                'constraints': [models.UniqueConstraint(fields=('office', 'number', 'issue'), name='estimate_issue_once'), models.CheckConstraint(condition=models.Q(('issue__gte', 1), ('number__gte', 1)), name='estimate_numbers_from_one'), models.CheckConstraint(condition=models.Q(('state__in', ['draft', 'checked', 'shown', 'answered', 'replaced'])), name='estimate_state_known'), models.CheckConstraint(condition=models.Q(('answer__in', ('', 'all of an option', 'part of an option', 'none, thanks', 'chose no treatment', 'other place'))), name='estimate_answer_known'), models.CheckConstraint(condition=models.Q(('state__in', ('draft', 'replaced')), models.Q(('book__isnull', False), ('checked_at__isnull', False), ('checked_by__isnull', False), ('frozen__isnull', False), ('valid_through__isnull', False)), _connector='OR'), name='estimate_checked_is_frozen'), models.CheckConstraint(condition=models.Q(models.Q(('state__in', ('shown', 'answered')), _negated=True), ('shown_on__isnull', False), _connector='OR'), name='estimate_shown_on_a_day'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'answered'), _negated=True), models.Q(models.Q(('answer', ''), _negated=True), models.Q(('answered_by', ''), _negated=True), ('answered_on__isnull', False)), _connector='OR'), name='estimate_answered_by_somebody')],
            },
        ),
        migrations.CreateModel(
            name='Showing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('on', models.DateField()),
                ('to', models.CharField(max_length=200)),
                ('channel', models.CharField(choices=[('in person', 'In Person'), ('paper by post', 'Paper'), ('hand-over screen', 'Screen'), ('call', 'Call')], max_length=20)),
                ('sha256', models.CharField(max_length=64)),
                ('at', models.DateTimeField()),
                ('estimate', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='showings', to='plans.estimate')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('shown_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('estimate', 'id'),
                'constraints': [models.CheckConstraint(condition=models.Q(('to', ''), _negated=True), name='shown_to_somebody'), models.CheckConstraint(condition=models.Q(('channel__in', ['in person', 'paper by post', 'hand-over screen', 'call'])), name='shown_channel_known')],
            },
        ),
    ]
